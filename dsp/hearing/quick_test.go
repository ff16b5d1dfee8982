package hearing
import ("testing";"fmt";"time")
func TestQuick(t *testing.T) {
	t0:=time.Now()
	tablesFor(standard,48000)
	fmt.Println("tables",time.Since(t0))
	env := gate(testRate,1.2,.1,1.1,.02)
	zero := make([]float64,len(env))
	for _,f:=range []float64{125,160,250,333,500,700,1000,1500,2000,2500,3150,4000,6300,8000,10000} {
		fmt.Printf("%6.0f T %6.2f model %6.2f\n", f, float64(QuietThreshold(f)), threshold(t,standard,testRate,zero,sine(testRate,env,f,0,0)))
	}
	fmt.Println(time.Since(t0))
	for _,f:=range []float64{250,500,1000,2000,4000,8000} {
		for _,n0:=range []float64{20,40} {
		s:=0.
		for seed:=uint64(1);seed<4;seed++ {
			n:=bandNoise(testRate,gate(testRate,1.2,.05,1.15,.02),20,20000,n0,seed)
			s+=threshold(t,standard,testRate,n,sine(testRate,gate(testRate,1.2,.4,.9,.02),f,0,0.3))/3
		}
		fmt.Printf("noise %6.0f N0 %g: %6.2f re N0\n", f, n0, s-n0)
		}
	}
	tb:=tablesFor(standard,48000)
	for b:=0;b<bandCount;b+=5 { fmt.Printf("%d f %.0f noise %.1f dB T %.1f ripple %.3f\n",b,bandFrequency(b),db(tb.noise[b]),float64(QuietThreshold(bandFrequency(b))),tb.ripple[b])}
	for _,l:=range []float64{22,42,62,82} {
		e:=gate(testRate,1.2,.4,.9,.02)
		p:=sine(testRate,e,1000,l,0)
		g:=threshold(t,standard,testRate,p,p)
		fmt.Printf("jnd %g: %.2f dB\n",l,dbl(g))
	}
	fmt.Println(time.Since(t0))
}

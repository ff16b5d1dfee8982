package signal

import (
	"fmt"
)

func ExampleMaterial_Generate() {
	m, err := Lookup("soft-speech")
	if err != nil {
		fmt.Println(err)
		return
	}
	x, err := m.Generate(44100, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Title, len(x), len(x[0]))
	// Output: Soft speech in nonsense syllables 1 396900
}

func ExampleMaterial_At() {
	m, err := Lookup("aes17-997")
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err = m.At(-20)
	fmt.Println(m.Tones[0].Level, err)
	_, err = m.At(6)
	fmt.Println(err)
	// Output:
	// -20 <nil>
	// peak level 6 dBFS: want -140 to 0
}

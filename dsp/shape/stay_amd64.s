#include "textflag.h"
#include "go_asm.h"

// The weights, in R8.
#define curve1 0(R8)
#define curve2 32(R8)
#define curve3 64(R8)
#define bend1 96(R8)
#define bend2 128(R8)
#define bend3 160(R8)
#define half 192(R8)
#define outerPoint 224(R8)
#define leanPoint 256(R8)
#define aside 288(R8)
#define amid 320(R8)
#define outerSum 352(R8)
#define outerMiddle 384(R8)
#define outerDifference 416(R8)
#define innerSum 448(R8)
#define innerMiddle 480(R8)
#define innerDifference 512(R8)

// Bytes between two lanes.
#define LANE (8*const_lane)

// One step of Horner's rule at three points: acc = acc·u + c.
#define HORNER(c) \
	VMULPD Y0, Y2, Y2 \
	VMULPD Y4, Y3, Y3 \
	VMULPD Y1, Y5, Y5 \
	VADDPD c, Y2, Y2  \
	VADDPD c, Y3, Y3  \
	VADDPD c, Y5, Y5

// func stayAVX(p, x *float64, n int, c *cell, weights *[17][4]float64) int
TEXT ·stayAVX(SB), NOSPLIT, $0-48
	MOVQ p+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ c+24(FP), DX
	MOVQ weights+32(FP), R8
	MOVQ CX, R10
	MOVL $4, R11
	VBROADCASTSD cell_c0(DX), Y10
	VBROADCASTSD cell_c1(DX), Y11
	VBROADCASTSD cell_c2(DX), Y12
	VBROADCASTSD cell_c3(DX), Y13
	VBROADCASTSD cell_c4(DX), Y14
	VBROADCASTSD cell_c5(DX), Y15

four:
	CMPQ CX, $4
	JLT  done

	// Sums in Y0, Y1, Y2 and differences in Y3, Y4, Y5, the nearest samples first.
	VMOVUPD 16(SI), Y6
	VMOVUPD 24(SI), Y7
	VADDPD  Y7, Y6, Y0
	VSUBPD  Y6, Y7, Y3
	VMOVUPD 8(SI), Y6
	VMOVUPD 32(SI), Y8
	VADDPD  Y8, Y6, Y1
	VSUBPD  Y6, Y8, Y4
	VMOVUPD (SI), Y6
	VMOVUPD 40(SI), Y8
	VADDPD  Y8, Y6, Y2
	VSUBPD  Y6, Y8, Y5

	// The curve is in Y8, the bend in Y9.
	VMULPD curve1, Y0, Y8
	VMULPD curve2, Y1, Y1
	VADDPD Y1, Y8, Y8
	VMULPD curve3, Y2, Y2
	VADDPD Y2, Y8, Y8
	VMULPD bend1, Y3, Y9
	VMULPD bend2, Y4, Y4
	VADDPD Y4, Y9, Y9
	VMULPD bend3, Y5, Y5
	VADDPD Y5, Y9, Y9

	// How many of the four, from the first on, end in the cell and hardly leave it: R11.
	VBROADCASTSD cell_middle(DX), Y6
	VSUBPD Y6, Y7, Y7
	VMULPD Y7, Y7, Y7
	VBROADCASTSD cell_reach(DX), Y1
	VCMPPD $0x12, Y1, Y7, Y7
	VBROADCASTSD cell_bow(DX), Y1
	VMULPD Y8, Y8, Y2
	VCMPPD $0x12, Y1, Y2, Y2
	VANDPD Y2, Y7, Y7
	VMULPD Y9, Y9, Y2
	VCMPPD $0x12, Y1, Y2, Y2
	VANDPD Y2, Y7, Y7
	VMOVMSKPD Y7, AX
	CMPL AX, $15
	JEQ  gauss
	NOTL AX
	BSFL AX, R11
	TESTL R11, R11
	JEQ  done

gauss:
	// Gauss's points: Y0, Y4 and Y1.
	VMULPD half, Y0, Y0
	VSUBPD Y6, Y0, Y4
	VMULPD outerPoint, Y3, Y3
	VMULPD leanPoint, Y9, Y9
	VADDPD Y9, Y3, Y3
	VMULPD aside, Y8, Y7
	VSUBPD Y7, Y4, Y7
	VMULPD amid, Y8, Y8
	VSUBPD Y8, Y4, Y4
	VSUBPD Y3, Y7, Y0
	VADDPD Y3, Y7, Y1

	VMULPD Y0, Y15, Y2
	VMULPD Y4, Y15, Y3
	VMULPD Y1, Y15, Y5
	VADDPD Y14, Y2, Y2
	VADDPD Y14, Y3, Y3
	VADDPD Y14, Y5, Y5
	HORNER(Y13)
	HORNER(Y12)
	HORNER(Y11)
	HORNER(Y10)

	// Sum in Y6, middle in Y3, difference in Y5.
	VADDPD Y5, Y2, Y6
	VSUBPD Y2, Y5, Y5
	VMULPD outerSum, Y6, Y0
	VMULPD outerMiddle, Y3, Y1
	VADDPD Y1, Y0, Y0
	VMULPD outerDifference, Y5, Y1
	VMULPD innerSum, Y6, Y2
	VMULPD innerMiddle, Y3, Y3
	VADDPD Y3, Y2, Y2
	VMULPD innerDifference, Y5, Y4
	VSUBPD Y1, Y0, Y6
	VSUBPD Y4, Y2, Y7
	VADDPD Y4, Y2, Y8
	VADDPD Y1, Y0, Y9
	VMOVUPD Y6, (DI)
	VMOVUPD Y7, LANE(DI)
	VMOVUPD Y8, (2*LANE)(DI)
	VMOVUPD Y9, (3*LANE)(DI)
	CMPL R11, $4
	JNE  some
	ADDQ $32, SI
	ADDQ $32, DI
	SUBQ $4, CX
	JMP  four

some:
	SUBQ R11, CX

done:
	SUBQ CX, R10
	MOVQ R10, ret+40(FP)
	VZEROUPPER
	RET

// The same at eight.
#define HORNER8(c) \
	VMULPD Z0, Z2, Z2 \
	VMULPD Z4, Z3, Z3 \
	VMULPD Z1, Z5, Z5 \
	VADDPD c, Z2, Z2  \
	VADDPD c, Z3, Z3  \
	VADDPD c, Z5, Z5

// func stayAVX512(p, x *float64, n int, c *cell, weights *[17][4]float64) int
TEXT ·stayAVX512(SB), NOSPLIT, $0-48
	MOVQ p+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ c+24(FP), DX
	MOVQ weights+32(FP), R8
	MOVQ CX, R10
	MOVL $8, R11
	VBROADCASTSD cell_c0(DX), Z10
	VBROADCASTSD cell_c1(DX), Z11
	VBROADCASTSD cell_c2(DX), Z12
	VBROADCASTSD cell_c3(DX), Z13
	VBROADCASTSD cell_c4(DX), Z14
	VBROADCASTSD cell_c5(DX), Z15
	VBROADCASTSD cell_middle(DX), Z16
	VBROADCASTSD cell_reach(DX), Z17
	VBROADCASTSD cell_bow(DX), Z18

eight:
	CMPQ CX, $8
	JLT  done8

	// As above.
	VMOVUPD 16(SI), Z6
	VMOVUPD 24(SI), Z7
	VADDPD  Z7, Z6, Z0
	VSUBPD  Z6, Z7, Z3
	VMOVUPD 8(SI), Z6
	VMOVUPD 32(SI), Z8
	VADDPD  Z8, Z6, Z1
	VSUBPD  Z6, Z8, Z4
	VMOVUPD (SI), Z6
	VMOVUPD 40(SI), Z8
	VADDPD  Z8, Z6, Z2
	VSUBPD  Z6, Z8, Z5

	VMULPD.BCST curve1, Z0, Z8
	VMULPD.BCST curve2, Z1, Z1
	VADDPD Z1, Z8, Z8
	VMULPD.BCST curve3, Z2, Z2
	VADDPD Z2, Z8, Z8
	VMULPD.BCST bend1, Z3, Z9
	VMULPD.BCST bend2, Z4, Z4
	VADDPD Z4, Z9, Z9
	VMULPD.BCST bend3, Z5, Z5
	VADDPD Z5, Z9, Z9

	VSUBPD Z16, Z7, Z7
	VMULPD Z7, Z7, Z7
	VCMPPD $0x12, Z17, Z7, K1
	VMULPD Z8, Z8, Z2
	VCMPPD $0x12, Z18, Z2, K1, K2
	VMULPD Z9, Z9, Z2
	VCMPPD $0x12, Z18, Z2, K2, K3
	KMOVW K3, AX
	CMPL AX, $255
	JEQ  gauss8
	NOTL AX
	BSFL AX, R11
	TESTL R11, R11
	JEQ  done8

gauss8:
	VMULPD.BCST half, Z0, Z0
	VSUBPD Z16, Z0, Z4
	VMULPD.BCST outerPoint, Z3, Z3
	VMULPD.BCST leanPoint, Z9, Z9
	VADDPD Z9, Z3, Z3
	VMULPD.BCST aside, Z8, Z7
	VSUBPD Z7, Z4, Z7
	VMULPD.BCST amid, Z8, Z8
	VSUBPD Z8, Z4, Z4
	VSUBPD Z3, Z7, Z0
	VADDPD Z3, Z7, Z1

	VMULPD Z0, Z15, Z2
	VMULPD Z4, Z15, Z3
	VMULPD Z1, Z15, Z5
	VADDPD Z14, Z2, Z2
	VADDPD Z14, Z3, Z3
	VADDPD Z14, Z5, Z5
	HORNER8(Z13)
	HORNER8(Z12)
	HORNER8(Z11)
	HORNER8(Z10)

	VADDPD Z5, Z2, Z6
	VSUBPD Z2, Z5, Z5
	VMULPD.BCST outerSum, Z6, Z0
	VMULPD.BCST outerMiddle, Z3, Z1
	VADDPD Z1, Z0, Z0
	VMULPD.BCST outerDifference, Z5, Z1
	VMULPD.BCST innerSum, Z6, Z2
	VMULPD.BCST innerMiddle, Z3, Z3
	VADDPD Z3, Z2, Z2
	VMULPD.BCST innerDifference, Z5, Z4
	VSUBPD Z1, Z0, Z6
	VSUBPD Z4, Z2, Z7
	VADDPD Z4, Z2, Z8
	VADDPD Z1, Z0, Z9
	VMOVUPD Z6, (DI)
	VMOVUPD Z7, LANE(DI)
	VMOVUPD Z8, (2*LANE)(DI)
	VMOVUPD Z9, (3*LANE)(DI)
	CMPL R11, $8
	JNE  some8
	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $8, CX
	JMP  eight

some8:
	SUBQ R11, CX

done8:
	SUBQ CX, R10
	MOVQ R10, ret+40(FP)
	VZEROUPPER
	RET

// func gatherAVX(dst, p *float64, n int)
TEXT ·gatherAVX(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ p+8(FP), SI
	MOVQ n+16(FP), CX

fourSums:
	VMOVUPD (3*LANE)(SI), Y0
	VADDPD (2*LANE+8)(SI), Y0, Y0
	VADDPD (LANE+16)(SI), Y0, Y0
	VADDPD 24(SI), Y0, Y0
	VMOVUPD Y0, (DI)
	ADDQ $32, SI
	ADDQ $32, DI
	SUBQ $4, CX
	JNE  fourSums
	VZEROUPPER
	RET

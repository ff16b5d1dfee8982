#include "textflag.h"

// The constants, in DX.
#define steps 0(DX)
#define eighth 56(DX)
#define first 64(DX)
#define second 72(DX)
#define perUnit 80(DX)

// func ditherAVX512(out *int64, src *float64, n int, state uint64, scale, lsb float64, constants *[11]uint64) bool
TEXT ·ditherAVX512(SB), NOSPLIT, $0-57
	MOVQ out+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ constants+48(FP), DX
	VPBROADCASTQ state+24(FP), Z0
	VPADDQ steps, Z0, Z0
	VPBROADCASTQ eighth, Z1
	VPBROADCASTQ first, Z2
	VPBROADCASTQ second, Z3
	VBROADCASTSD perUnit, Z4
	VBROADCASTSD scale+32(FP), Z5
	VBROADCASTSD lsb+40(FP), Z6

	// The range: from -scale in Z7 to scale - 1 in Z8, which is exact.
	VPXORQ Z7, Z7, Z7
	VSUBPD Z5, Z7, Z7
	MOVQ $0x3FF0000000000000, AX
	VPBROADCASTQ AX, Z8
	VSUBPD Z8, Z5, Z8
	KXNORW K1, K1, K1 // all in range so far

eight:
	// mix
	VPSRLQ $30, Z0, Z9
	VPXORQ Z0, Z9, Z9
	VPMULLQ Z2, Z9, Z9
	VPSRLQ $27, Z9, Z10
	VPXORQ Z10, Z9, Z9
	VPMULLQ Z3, Z9, Z9
	VPSRLQ $31, Z9, Z10
	VPXORQ Z10, Z9, Z9

	// The upper half less the lower one.
	VPSRLQ $32, Z9, Z10
	VPSLLQ $32, Z9, Z9
	VPSRLQ $32, Z9, Z9
	VPSUBQ Z9, Z10, Z9
	VCVTQQ2PD Z9, Z9
	VMULPD Z4, Z9, Z9

	VMULPD Z6, Z9, Z9
	VMULPD (SI), Z5, Z10
	VADDPD Z9, Z10, Z9
	VRNDSCALEPD $8, Z9, Z9
	VCMPPD $0x1D, Z7, Z9, K1, K1
	VCMPPD $0x12, Z8, Z9, K1, K1
	VCVTTPD2QQ Z9, Z9
	VMOVDQU64 Z9, (DI)
	VPADDQ Z1, Z0, Z0
	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $8, CX
	JNE  eight

	KMOVW K1, AX
	CMPL AX, $255
	SETEQ ret+56(FP)
	VZEROUPPER
	RET

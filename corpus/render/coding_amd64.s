#include "textflag.h"

// func unpackThree(block *float64, code *byte, n int, spread *[16]byte, step float64)
TEXT ·unpackThree(SB), NOSPLIT, $0-40
	MOVQ block+0(FP), DI
	MOVQ code+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ spread+24(FP), DX
	VMOVDQU (DX), X2
	VBROADCASTSD step+32(FP), Y1

three:
	VMOVDQU (SI), X0
	VPSHUFB X2, X0, X0
	VPSRAD $8, X0, X0
	VCVTDQ2PD X0, Y0
	VMULPD Y1, Y0, Y0
	VMOVUPD Y0, (DI)
	ADDQ $12, SI
	ADDQ $32, DI
	SUBQ $4, CX
	JNE  three
	VZEROUPPER
	RET

// func unpackFour(block *float64, code *byte, n int, step float64)
TEXT ·unpackFour(SB), NOSPLIT, $0-32
	MOVQ block+0(FP), DI
	MOVQ code+8(FP), SI
	MOVQ n+16(FP), CX
	VBROADCASTSD step+24(FP), Y1

four:
	VCVTDQ2PD (SI), Y0
	VMULPD Y1, Y0, Y0
	VMOVUPD Y0, (DI)
	ADDQ $16, SI
	ADDQ $32, DI
	SUBQ $4, CX
	JNE  four
	VZEROUPPER
	RET

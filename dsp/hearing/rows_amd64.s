#include "textflag.h"

// func rowsAVX(dst, a, b *float64, pa, pb float64, n int)
TEXT ·rowsAVX(SB), NOSPLIT, $0-48
	MOVQ         dst+0(FP), DI
	MOVQ         a+8(FP), SI
	MOVQ         b+16(FP), DX
	VBROADCASTSD pa+24(FP), Y0
	VBROADCASTSD pb+32(FP), Y1
	MOVQ         n+40(FP), CX

four:
	VMULPD  (SI), Y0, Y2
	VMULPD  (DX), Y1, Y3
	VADDPD  Y3, Y2, Y2
	VADDPD  (DI), Y2, Y2
	VMOVUPD Y2, (DI)
	ADDQ    $32, SI
	ADDQ    $32, DX
	ADDQ    $32, DI
	SUBQ    $4, CX
	JNZ     four
	VZEROUPPER
	RET

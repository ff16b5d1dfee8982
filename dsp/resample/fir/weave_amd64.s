#include "textflag.h"

// func deinterleaveAVX(even, odd, src *float64, n int)
TEXT ·deinterleaveAVX(SB), NOSPLIT, $0-32
	MOVQ even+0(FP), DI
	MOVQ odd+8(FP), SI
	MOVQ src+16(FP), DX
	MOVQ n+24(FP), CX

apart:
	VMOVUPD   (DX), Y0
	VMOVUPD   32(DX), Y1
	VUNPCKLPD Y1, Y0, Y2
	VUNPCKHPD Y1, Y0, Y3
	VPERMPD   $0xD8, Y2, Y2
	VPERMPD   $0xD8, Y3, Y3
	VMOVUPD   Y2, (DI)
	VMOVUPD   Y3, (SI)
	ADDQ      $64, DX
	ADDQ      $32, DI
	ADDQ      $32, SI
	SUBQ      $4, CX
	JNZ       apart
	VZEROUPPER
	RET

// func interleaveAVX(dst, even, odd *float64, n int)
TEXT ·interleaveAVX(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ even+8(FP), SI
	MOVQ odd+16(FP), DX
	MOVQ n+24(FP), CX

together:
	VPERMPD   $0xD8, (SI), Y0
	VPERMPD   $0xD8, (DX), Y1
	VUNPCKLPD Y1, Y0, Y2
	VUNPCKHPD Y1, Y0, Y3
	VMOVUPD   Y2, (DI)
	VMOVUPD   Y3, 32(DI)
	ADDQ      $32, SI
	ADDQ      $32, DX
	ADDQ      $64, DI
	SUBQ      $4, CX
	JNZ       together
	VZEROUPPER
	RET

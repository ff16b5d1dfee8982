#include "textflag.h"

// The complex product (pr, pi)·(wr, wi) into (pr, pi), the roots at an offset from R9.
#define TIMES(at, pr, pi, wr, wi, t0, t1) \
	VMOVUPD at(R9), wr      \
	VMOVUPD at+32(R9), wi   \
	VMULPD  wr, pr, t0      \
	VMULPD  wi, pi, t1      \
	VMULPD  wi, pr, pr      \
	VMULPD  wr, pi, pi      \
	VADDPD  pi, pr, pi      \
	VSUBPD  t1, t0, pr

// The sums and differences of a and c, b and d: s0, s1, s2, s3.
#define SUMS(a, b, c, d, s0, s1, s2, s3) \
	VADDPD c, a, s0 \
	VSUBPD c, a, s1 \
	VADDPD d, b, s2 \
	VSUBPD d, b, s3

// Four rows of four into four columns, by way of Y12 to Y15.
#define TURN(a, b, c, d) \
	VUNPCKLPD  b, a, Y12         \
	VUNPCKHPD  b, a, Y13         \
	VUNPCKLPD  d, c, Y14         \
	VUNPCKHPD  d, c, Y15         \
	VPERM2F128 $0x20, Y14, Y12, a \
	VPERM2F128 $0x20, Y15, Y13, b \
	VPERM2F128 $0x31, Y14, Y12, c \
	VPERM2F128 $0x31, Y15, Y13, d

// func halvesAVX(re, im, roots *float64, half int)
TEXT ·halvesAVX(SB), NOSPLIT, $0-32
	MOVQ re+0(FP), SI
	MOVQ im+8(FP), DI
	MOVQ roots+16(FP), R9
	MOVQ half+24(FP), CX
	MOVQ CX, BX
	SHLQ $3, BX

four:
	VMOVUPD (SI), Y0
	VMOVUPD (DI), Y1
	VMOVUPD (SI)(BX*1), Y2
	VMOVUPD (DI)(BX*1), Y3
	VADDPD  Y2, Y0, Y4
	VADDPD  Y3, Y1, Y5
	VSUBPD  Y2, Y0, Y6
	VSUBPD  Y3, Y1, Y7
	VMOVUPD Y4, (SI)
	VMOVUPD Y5, (DI)
	TIMES(0, Y6, Y7, Y8, Y9, Y10, Y11)
	VMOVUPD Y6, (SI)(BX*1)
	VMOVUPD Y7, (DI)(BX*1)
	ADDQ    $32, SI
	ADDQ    $32, DI
	ADDQ    $64, R9
	SUBQ    $4, CX
	JNZ     four
	VZEROUPPER
	RET

// func fourthsAVX(re, im, roots *float64, quarter, blocks int)
TEXT ·fourthsAVX(SB), NOSPLIT, $0-40
	MOVQ re+0(FP), SI
	MOVQ im+8(FP), DI
	MOVQ roots+16(FP), R8
	MOVQ quarter+24(FP), DX
	MOVQ blocks+32(FP), CX
	MOVQ DX, BX
	SHLQ $3, BX             // a quarter, bytes
	LEAQ (BX)(BX*2), R10    // three

block:
	MOVQ R8, R9
	MOVQ DX, R11

four:
	VMOVUPD (SI), Y0
	VMOVUPD (SI)(BX*1), Y1
	VMOVUPD (SI)(BX*2), Y2
	VMOVUPD (SI)(R10*1), Y3
	SUMS(Y0, Y1, Y2, Y3, Y4, Y5, Y6, Y7)
	VMOVUPD (DI), Y0
	VMOVUPD (DI)(BX*1), Y1
	VMOVUPD (DI)(BX*2), Y2
	VMOVUPD (DI)(R10*1), Y3
	SUMS(Y0, Y1, Y2, Y3, Y8, Y9, Y10, Y11)
	VADDPD  Y6, Y4, Y0
	VADDPD  Y10, Y8, Y1
	VMOVUPD Y0, (SI)
	VMOVUPD Y1, (DI)
	VADDPD  Y11, Y5, Y0
	VSUBPD  Y7, Y9, Y1
	TIMES(0, Y0, Y1, Y12, Y13, Y14, Y15)
	VMOVUPD Y0, (SI)(BX*1)
	VMOVUPD Y1, (DI)(BX*1)
	VSUBPD  Y6, Y4, Y2
	VSUBPD  Y10, Y8, Y3
	TIMES(64, Y2, Y3, Y12, Y13, Y14, Y15)
	VMOVUPD Y2, (SI)(BX*2)
	VMOVUPD Y3, (DI)(BX*2)
	VSUBPD  Y11, Y5, Y4
	VADDPD  Y7, Y9, Y6
	TIMES(128, Y4, Y6, Y12, Y13, Y14, Y15)
	VMOVUPD Y4, (SI)(R10*1)
	VMOVUPD Y6, (DI)(R10*1)
	ADDQ    $32, SI
	ADDQ    $32, DI
	ADDQ    $192, R9
	SUBQ    $4, R11
	JNZ     four
	ADDQ    R10, SI
	ADDQ    R10, DI
	DECQ    CX
	JNZ     block
	VZEROUPPER
	RET

// func lastAVX(re, im *float64, groups int)
TEXT ·lastAVX(SB), NOSPLIT, $0-24
	MOVQ re+0(FP), SI
	MOVQ im+8(FP), DI
	MOVQ groups+16(FP), CX

group:
	VMOVUPD (SI), Y0
	VMOVUPD 32(SI), Y1
	VMOVUPD 64(SI), Y2
	VMOVUPD 96(SI), Y3
	TURN(Y0, Y1, Y2, Y3)
	SUMS(Y0, Y1, Y2, Y3, Y4, Y5, Y6, Y7)
	VMOVUPD (DI), Y0
	VMOVUPD 32(DI), Y1
	VMOVUPD 64(DI), Y2
	VMOVUPD 96(DI), Y3
	TURN(Y0, Y1, Y2, Y3)
	SUMS(Y0, Y1, Y2, Y3, Y8, Y9, Y10, Y11)
	VADDPD  Y6, Y4, Y0
	VADDPD  Y10, Y8, Y1
	VADDPD  Y11, Y5, Y2
	VSUBPD  Y7, Y9, Y3
	VMOVUPD Y0, (SI)
	VMOVUPD Y1, (DI)
	VMOVUPD Y2, 32(SI)
	VMOVUPD Y3, 32(DI)
	VSUBPD  Y6, Y4, Y0
	VSUBPD  Y10, Y8, Y1
	VSUBPD  Y11, Y5, Y2
	VADDPD  Y7, Y9, Y3
	VMOVUPD Y0, 64(SI)
	VMOVUPD Y1, 64(DI)
	VMOVUPD Y2, 96(SI)
	VMOVUPD Y3, 96(DI)
	ADDQ    $128, SI
	ADDQ    $128, DI
	DECQ    CX
	JNZ     group
	VZEROUPPER
	RET

#include "textflag.h"

// One coefficient (Y4) on four sums: acc += Y4·(left + right).
#define PAIR(at, acc, tmp) \
	VMOVUPD at(R9), tmp       \
	VADDPD  at(R10), tmp, tmp \
	VMULPD  Y4, tmp, tmp      \
	VADDPD  tmp, acc, acc

// func foldAVX(dst, left, right, taps *float64, m, n int)
TEXT ·foldAVX(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ left+8(FP), SI
	MOVQ right+16(FP), DX
	MOVQ taps+24(FP), R8
	MOVQ m+32(FP), CX
	MOVQ n+40(FP), BX

sixteen:
	CMPQ   BX, $16
	JLT    four
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	VXORPD Y2, Y2, Y2
	VXORPD Y3, Y3, Y3
	MOVQ   SI, R9
	MOVQ   DX, R10
	MOVQ   R8, R11
	MOVQ   CX, R12

sixteenTap:
	VBROADCASTSD (R11), Y4
	PAIR(0, Y0, Y5)
	PAIR(32, Y1, Y6)
	PAIR(64, Y2, Y7)
	PAIR(96, Y3, Y8)
	SUBQ    $8, R9
	ADDQ    $8, R10
	ADDQ    $8, R11
	DECQ    R12
	JNZ     sixteenTap
	VMOVUPD Y0, 0(DI)
	VMOVUPD Y1, 32(DI)
	VMOVUPD Y2, 64(DI)
	VMOVUPD Y3, 96(DI)
	ADDQ    $128, SI
	ADDQ    $128, DX
	ADDQ    $128, DI
	SUBQ    $16, BX
	JMP     sixteen

four:
	CMPQ   BX, $4
	JLT    done
	VXORPD Y0, Y0, Y0
	MOVQ   SI, R9
	MOVQ   DX, R10
	MOVQ   R8, R11
	MOVQ   CX, R12

fourTap:
	VBROADCASTSD (R11), Y4
	PAIR(0, Y0, Y5)
	SUBQ    $8, R9
	ADDQ    $8, R10
	ADDQ    $8, R11
	DECQ    R12
	JNZ     fourTap
	VMOVUPD Y0, 0(DI)
	ADDQ    $32, SI
	ADDQ    $32, DX
	ADDQ    $32, DI
	SUBQ    $4, BX
	JMP     four

done:
	VZEROUPPER
	RET

// The same with eight sums at a time.
#define PAIR8(at, acc, tmp) \
	VMOVUPD at(R9), tmp       \
	VADDPD  at(R10), tmp, tmp \
	VMULPD  Z4, tmp, tmp      \
	VADDPD  tmp, acc, acc

// The same k coefficients further on, with what is right in two neighbours of Z16 to Z20, which
// saves half of the loads: nearly every one of a whole line touches two.
#define NEXT8(k, at, low, high, acc, tmp) \
	VALIGNQ $k, low, high, tmp     \
	VADDPD  (at-8*k)(R9), tmp, tmp \
	VMULPD  Z4, tmp, tmp           \
	VADDPD  tmp, acc, acc

// One coefficient of eight.
#define TAP(k) \
	VBROADCASTSD (8*k)(R11), Z4       \
	NEXT8(k, 0, Z16, Z17, Z0, Z5)     \
	NEXT8(k, 64, Z17, Z18, Z1, Z6)    \
	NEXT8(k, 128, Z18, Z19, Z2, Z7)   \
	NEXT8(k, 192, Z19, Z20, Z3, Z8)

// func foldAVX512(dst, left, right, taps *float64, m, n int)
TEXT ·foldAVX512(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ left+8(FP), SI
	MOVQ right+16(FP), DX
	MOVQ taps+24(FP), R8
	MOVQ m+32(FP), CX
	MOVQ n+40(FP), BX
	MOVQ $127, AX // the last of forty is not needed, and may not be there
	KMOVW AX, K1

thirtytwo:
	VPXORQ Z0, Z0, Z0
	VPXORQ Z1, Z1, Z1
	VPXORQ Z2, Z2, Z2
	VPXORQ Z3, Z3, Z3
	MOVQ   SI, R9
	MOVQ   DX, R10
	MOVQ   R8, R11
	MOVQ   CX, R12

eightTaps:
	CMPQ R12, $8
	JLT  fewTaps
	VMOVUPD 0(R10), Z16
	VMOVUPD 64(R10), Z17
	VMOVUPD 128(R10), Z18
	VMOVUPD 192(R10), Z19
	VMOVUPD.Z 256(R10), K1, Z20
	TAP(0)
	TAP(1)
	TAP(2)
	TAP(3)
	TAP(4)
	TAP(5)
	TAP(6)
	TAP(7)
	SUBQ $64, R9
	ADDQ $64, R10
	ADDQ $64, R11
	SUBQ $8, R12
	JMP  eightTaps

fewTaps:
	TESTQ R12, R12
	JEQ   store

oneTap:
	VBROADCASTSD (R11), Z4
	PAIR8(0, Z0, Z5)
	PAIR8(64, Z1, Z6)
	PAIR8(128, Z2, Z7)
	PAIR8(192, Z3, Z8)
	SUBQ    $8, R9
	ADDQ    $8, R10
	ADDQ    $8, R11
	DECQ    R12
	JNZ     oneTap

store:
	VMOVUPD Z0, 0(DI)
	VMOVUPD Z1, 64(DI)
	VMOVUPD Z2, 128(DI)
	VMOVUPD Z3, 192(DI)
	ADDQ    $256, SI
	ADDQ    $256, DX
	ADDQ    $256, DI
	SUBQ    $32, BX
	JNZ     thirtytwo
	VZEROUPPER
	RET

#include "textflag.h"
#include "go_asm.h"

// One step of Horner's rule at three points: acc = acc·u + c.
#define HORNER(c) \
	VMULPD Y0, Y2, Y2 \
	VMULPD Y4, Y3, Y3 \
	VMULPD Y1, Y5, Y5 \
	VADDPD c, Y2, Y2  \
	VADDPD c, Y3, Y3  \
	VADDPD c, Y5, Y5

// func stayAVX(dst, x *float64, n int, c *cell, weights *[7]float64, kept *float64) int
TEXT ·stayAVX(SB), NOSPLIT, $32-56
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ n+16(FP), CX
	MOVQ c+24(FP), DX
	MOVQ weights+32(FP), R8
	MOVQ kept+40(FP), R9
	MOVQ CX, R10
	MOVL $4, R11
	VBROADCASTSD cell_c0(DX), Y10
	VBROADCASTSD cell_c1(DX), Y11
	VBROADCASTSD cell_c2(DX), Y12
	VBROADCASTSD cell_c3(DX), Y13
	VBROADCASTSD cell_c4(DX), Y14
	VBROADCASTSD cell_c5(DX), Y15
	VBROADCASTSD (R9), Y9

four:
	CMPQ CX, $4
	JLT  done
	VMOVUPD (SI), Y0
	VMOVUPD 8(SI), Y1
	VMOVUPD 16(SI), Y2
	VMOVUPD 24(SI), Y3

	// The curve is in Y5, half the chord in Y4.
	VADDPD Y2, Y1, Y4
	VADDPD Y3, Y0, Y5
	VSUBPD Y4, Y5, Y5
	VBROADCASTSD (R8), Y6
	VMULPD Y6, Y5, Y5
	VMULPD Y6, Y4, Y4

	// How many of the four, from the first on, end in the cell and hardly leave it: R11.
	VBROADCASTSD cell_middle(DX), Y7
	VSUBPD Y7, Y2, Y8
	VMULPD Y8, Y8, Y8
	VBROADCASTSD cell_reach(DX), Y3
	VCMPPD $0x12, Y3, Y8, Y8
	VMULPD Y5, Y5, Y0
	VBROADCASTSD cell_bow(DX), Y6
	VCMPPD $0x12, Y6, Y0, Y0
	VANDPD Y8, Y0, Y8
	VMOVMSKPD Y8, AX
	CMPL AX, $15
	JEQ  gauss
	NOTL AX
	BSFL AX, R11
	JEQ  done
	TESTL R11, R11
	JEQ  done

gauss:
	// Gauss's points: Y0, Y4 and Y1.
	VSUBPD Y7, Y4, Y4
	VSUBPD Y1, Y2, Y6
	VBROADCASTSD 8(R8), Y7
	VMULPD Y7, Y6, Y6
	VBROADCASTSD 16(R8), Y7
	VMULPD Y5, Y7, Y7
	VSUBPD Y7, Y4, Y7
	VBROADCASTSD 24(R8), Y8
	VMULPD Y5, Y8, Y8
	VSUBPD Y8, Y4, Y4
	VSUBPD Y6, Y7, Y0
	VADDPD Y6, Y7, Y1

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

	// Mean in Y6, tilt in Y5.
	VADDPD Y5, Y2, Y6
	VBROADCASTSD 32(R8), Y7
	VMULPD Y7, Y6, Y6
	VBROADCASTSD 40(R8), Y7
	VMULPD Y7, Y3, Y3
	VADDPD Y3, Y6, Y6
	VSUBPD Y2, Y5, Y5
	VBROADCASTSD 48(R8), Y7
	VMULPD Y7, Y5, Y5

	// What each segment leaves to the next sample moves up by one.
	VSUBPD Y5, Y6, Y0
	VADDPD Y5, Y6, Y1
	VMOVUPD Y1, left-32(SP)
	VPERMPD $0x93, Y1, Y1
	VBLENDPD $1, Y9, Y1, Y2
	VADDPD Y0, Y2, Y0
	VMOVUPD Y0, (DI)
	CMPL R11, $4
	JNE  some
	VMOVAPD Y1, Y9
	ADDQ $32, SI
	ADDQ $32, DI
	SUBQ $4, CX
	JMP  four

some:
	VMOVSD left-40(SP)(R11*8), X9
	SUBQ R11, CX

done:
	VMOVSD X9, (R9)
	SUBQ CX, R10
	MOVQ R10, ret+48(FP)
	VZEROUPPER
	RET

// Kernels with AVX2 and FMA. Every one has a twin in Go in vector.go that says what it computes; tests compare the two.

#include "textflag.h"

// func addRow4(dst, x *float64, f float64, n int)
TEXT ·addRow4(SB), NOSPLIT, $0-32
	MOVQ         dst+0(FP), DI
	MOVQ         x+8(FP), SI
	VBROADCASTSD f+16(FP), Y0
	MOVQ         n+24(FP), CX
	XORQ         AX, AX

addRowLoop:
	CMPQ        AX, CX
	JGE         addRowDone
	VMOVUPD     (DI)(AX*8), Y1
	VFMADD231PD (SI)(AX*8), Y0, Y1
	VMOVUPD     Y1, (DI)(AX*8)
	ADDQ        $4, AX
	JMP         addRowLoop

addRowDone:
	VZEROUPPER
	RET

// func dotRow4(a, x *float64, n int) float64
TEXT ·dotRow4(SB), NOSPLIT, $0-32
	MOVQ   a+0(FP), DI
	MOVQ   x+8(FP), SI
	MOVQ   n+16(FP), CX
	XORQ   AX, AX
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	SUBQ   $4, CX

dotRowLoop:
	CMPQ        AX, CX
	JGE         dotRowLast
	VMOVUPD     (DI)(AX*8), Y2
	VMOVUPD     32(DI)(AX*8), Y3
	VFMADD231PD (SI)(AX*8), Y2, Y0
	VFMADD231PD 32(SI)(AX*8), Y3, Y1
	ADDQ        $8, AX
	JMP         dotRowLoop

dotRowLast:
	JG          dotRowDone
	VMOVUPD     (DI)(AX*8), Y2
	VFMADD231PD (SI)(AX*8), Y2, Y0

dotRowDone:
	VADDPD       Y1, Y0, Y0
	VEXTRACTF128 $1, Y0, X1
	VADDPD       X1, X0, X0
	VPERMILPD    $1, X0, X1
	VADDSD       X1, X0, X0
	VMOVSD       X0, ret+24(FP)
	VZEROUPPER
	RET

// func bothRow4(dst, row, x *float64, f float64, n int) float64
TEXT ·bothRow4(SB), NOSPLIT, $0-48
	MOVQ         dst+0(FP), DI
	MOVQ         row+8(FP), SI
	MOVQ         x+16(FP), DX
	VBROADCASTSD f+24(FP), Y4
	MOVQ         n+32(FP), CX
	XORQ         AX, AX
	VXORPD       Y0, Y0, Y0

bothRowLoop:
	CMPQ        AX, CX
	JGE         bothRowDone
	VMOVUPD     (SI)(AX*8), Y2
	VFMADD231PD (DX)(AX*8), Y2, Y0
	VMOVUPD     (DI)(AX*8), Y3
	VFMADD231PD Y2, Y4, Y3
	VMOVUPD     Y3, (DI)(AX*8)
	ADDQ        $4, AX
	JMP         bothRowLoop

bothRowDone:
	VEXTRACTF128 $1, Y0, X1
	VADDPD       X1, X0, X0
	VPERMILPD    $1, X0, X1
	VADDSD       X1, X0, X0
	VMOVSD       X0, ret+40(FP)
	VZEROUPPER
	RET

// func eliminate4(a, rows *float64, block int)
TEXT ·eliminate4(SB), NOSPLIT, $0-24
	MOVQ a+0(FP), DI     // row i
	MOVQ rows+8(FP), SI  // the four rows, R8 bytes each
	MOVQ block+16(FP), CX
	MOVQ CX, R8
	INCQ R8
	SHLQ $5, R8
	LEAQ (SI)(R8*1), R9
	LEAQ (R9)(R8*1), R10
	LEAQ (R10)(R8*1), R11
	SHLQ $2, CX          // rows before the block
	XORQ BX, BX          // i

eliminateRow:
	CMPQ         BX, CX
	JGE          eliminateDone
	VBROADCASTSD (SI)(BX*8), Y0
	VBROADCASTSD (R9)(BX*8), Y1
	VBROADCASTSD (R10)(BX*8), Y2
	VBROADCASTSD (R11)(BX*8), Y3
	MOVQ         BX, DX
	ADDQ         $4, DX
	ANDQ         $-4, DX // the row's length
	XORQ         AX, AX

eliminateLoop:
	VMOVUPD      (DI), Y4
	VFNMADD231PD (SI)(AX*8), Y0, Y4
	VMULPD       (R9)(AX*8), Y1, Y5
	VFNMADD231PD (R10)(AX*8), Y2, Y4
	VFMADD231PD  (R11)(AX*8), Y3, Y5
	VSUBPD       Y5, Y4, Y4
	VMOVUPD      Y4, (DI)
	ADDQ         $32, DI
	ADDQ         $4, AX
	CMPQ         AX, DX
	JLT          eliminateLoop
	INCQ         BX
	JMP          eliminateRow

eliminateDone:
	VZEROUPPER
	RET

// func combine32(dst, base *float64, terms, f *float32, terms1, chunks int)
TEXT ·combine32(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ base+8(FP), SI
	MOVQ terms+16(FP), DX
	MOVQ f+24(FP), R8
	MOVQ terms1+32(FP), R9
	MOVQ chunks+40(FP), CX

combineChunk:
	TESTQ  CX, CX
	JZ     combineDone
	VXORPS Y0, Y0, Y0
	VXORPS Y1, Y1, Y1
	VXORPS Y2, Y2, Y2
	VXORPS Y3, Y3, Y3
	XORQ   AX, AX

combineTerm:
	CMPQ         AX, R9
	JGE          combineStore
	VBROADCASTSS (R8)(AX*4), Y4
	VFMADD231PS  (DX), Y4, Y0
	VFMADD231PS  32(DX), Y4, Y1
	VFMADD231PS  64(DX), Y4, Y2
	VFMADD231PS  96(DX), Y4, Y3
	ADDQ         $128, DX
	INCQ         AX
	JMP          combineTerm

#define STORE(Y, X, AT) \
	VCVTPS2PD    X, Y5            \
	VADDPD       AT(SI), Y5, Y5   \
	VMOVUPD      Y5, AT(DI)       \
	VEXTRACTF128 $1, Y, X5        \
	VCVTPS2PD    X5, Y5           \
	VADDPD       AT+32(SI), Y5, Y5 \
	VMOVUPD      Y5, AT+32(DI)

combineStore:
	STORE(Y0, X0, 0)
	STORE(Y1, X1, 64)
	STORE(Y2, X2, 128)
	STORE(Y3, X3, 192)
	ADDQ $256, SI
	ADDQ $256, DI
	DECQ CX
	JMP  combineChunk

combineDone:
	VZEROUPPER
	RET

// func spread4(x, rows, y *float64, block int)
TEXT ·spread4(SB), NOSPLIT, $0-32
	MOVQ         x+0(FP), DI
	MOVQ         rows+8(FP), SI
	MOVQ         y+16(FP), DX
	MOVQ         block+24(FP), CX
	VBROADCASTSD (DX), Y0
	VBROADCASTSD 8(DX), Y1
	VBROADCASTSD 16(DX), Y2
	VBROADCASTSD 24(DX), Y3
	MOVQ         CX, R8
	INCQ         R8
	SHLQ         $5, R8
	LEAQ         (SI)(R8*1), R9
	LEAQ         (R9)(R8*1), R10
	LEAQ         (R10)(R8*1), R11
	SHLQ         $2, CX
	XORQ         AX, AX

spreadLoop:
	CMPQ         AX, CX
	JGE          spreadDone
	VMOVUPD      (DI)(AX*8), Y4
	VFNMADD231PD (SI)(AX*8), Y0, Y4
	VMULPD       (R9)(AX*8), Y1, Y5
	VFNMADD231PD (R10)(AX*8), Y2, Y4
	VFMADD231PD  (R11)(AX*8), Y3, Y5
	VSUBPD       Y5, Y4, Y4
	VMOVUPD      Y4, (DI)(AX*8)
	ADDQ         $4, AX
	JMP          spreadLoop

spreadDone:
	VZEROUPPER
	RET

// func gather4(sum, rows, x *float64, block int)
TEXT ·gather4(SB), NOSPLIT, $0-32
	MOVQ   sum+0(FP), DX
	MOVQ   rows+8(FP), SI
	MOVQ   x+16(FP), DI
	MOVQ   block+24(FP), CX
	MOVQ   CX, R8
	INCQ   R8
	SHLQ   $5, R8
	LEAQ   (SI)(R8*1), R9
	LEAQ   (R9)(R8*1), R10
	LEAQ   (R10)(R8*1), R11
	SHLQ   $2, CX
	XORQ   AX, AX
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	VXORPD Y2, Y2, Y2
	VXORPD Y3, Y3, Y3

gatherLoop:
	CMPQ        AX, CX
	JGE         gatherDone
	VMOVUPD     (DI)(AX*8), Y4
	VFMADD231PD (SI)(AX*8), Y4, Y0
	VFMADD231PD (R9)(AX*8), Y4, Y1
	VFMADD231PD (R10)(AX*8), Y4, Y2
	VFMADD231PD (R11)(AX*8), Y4, Y3
	ADDQ        $4, AX
	JMP         gatherLoop

gatherDone:
	// the four sums of four into one vector
	VHADDPD    Y1, Y0, Y0       // 0: 0+1 of a, b; 2+3 of a, b
	VHADDPD    Y3, Y2, Y2
	VPERM2F128 $0x21, Y2, Y0, Y1
	VBLENDPD   $0x0C, Y2, Y0, Y0
	VADDPD     Y1, Y0, Y0
	VMOVUPD    Y0, (DX)
	VZEROUPPER
	RET

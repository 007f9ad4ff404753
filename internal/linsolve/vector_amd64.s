// Kernels with AVX2 and FMA. Every one has a twin in Go that says what it
// computes; tests compare the two. Offsets like relaxRow_z come from go_asm.h.

#include "textflag.h"
#include "go_asm.h"

// The sum of the four parts of Y into the low part of X (T is scratch).
#define SUM4(Y, X, T) \
	VEXTRACTF128 $1, Y, T \
	VADDPD       T, X, X  \
	VPERMILPD    $1, X, T \
	VADDSD       T, X, X

// func applyCells4(r *applyRow, from, to int) (dot float64)
TEXT ·applyCells4(SB), NOSPLIT, $0-32
	MOVQ   r+0(FP), DI
	MOVQ   from+8(FP), AX
	MOVQ   applyRow_x(DI), SI
	MOVQ   applyRow_xym(DI), R8
	MOVQ   applyRow_xyp(DI), R9
	MOVQ   applyRow_xzm(DI), R10
	MOVQ   applyRow_xzp(DI), R11
	MOVQ   applyRow_gx(DI), R12
	MOVQ   applyRow_gym(DI), R13
	MOVQ   applyRow_gyp(DI), BX
	MOVQ   applyRow_gzm(DI), CX
	MOVQ   applyRow_gzp(DI), DX
	MOVQ   applyRow_diag(DI), R15
	MOVQ   applyRow_out(DI), DI
	VXORPD Y9, Y9, Y9

applyLoop:
	CMPQ AX, to+16(FP)
	JGE  applyDone

	// a = diag·v + gx·(v − x₊₁) + gx₋₁·(v − x₋₁) + …
	VMOVUPD     (SI)(AX*8), Y0
	VMULPD      (R15)(AX*8), Y0, Y1
	VSUBPD      8(SI)(AX*8), Y0, Y2
	VFMADD231PD (R12)(AX*8), Y2, Y1
	VSUBPD      -8(SI)(AX*8), Y0, Y3
	VFMADD231PD -8(R12)(AX*8), Y3, Y1
	VSUBPD      (R8)(AX*8), Y0, Y4
	VMULPD      (R13)(AX*8), Y4, Y5
	VSUBPD      (R9)(AX*8), Y0, Y6
	VFMADD231PD (BX)(AX*8), Y6, Y5
	VSUBPD      (R10)(AX*8), Y0, Y7
	VFMADD231PD (CX)(AX*8), Y7, Y1
	VSUBPD      (R11)(AX*8), Y0, Y8
	VFMADD231PD (DX)(AX*8), Y8, Y5
	VADDPD      Y5, Y1, Y1
	VMOVUPD     Y1, (DI)(AX*8)
	VFMADD231PD Y0, Y1, Y9
	ADDQ        $4, AX
	JMP         applyLoop

applyDone:
	SUM4(Y9, X9, X1)
	VMOVSD X9, dot+24(FP)
	VZEROUPPER
	RET

// func stepCells8(a *stepArgs, n int) (rr float64)
TEXT ·stepCells8(SB), NOSPLIT, $0-24
	MOVQ         a+0(FP), DI
	MOVQ         n+8(FP), CX
	MOVQ         stepArgs_x(DI), R8
	MOVQ         stepArgs_r(DI), R9
	MOVQ         stepArgs_p(DI), R10
	MOVQ         stepArgs_q(DI), R11
	MOVQ         stepArgs_z(DI), R12
	MOVQ         stepArgs_inv(DI), R13
	VBROADCASTSD stepArgs_alpha(DI), Y14
	VBROADCASTSD stepArgs_scale(DI), Y13
	VXORPD       Y8, Y8, Y8
	VXORPD       Y9, Y9, Y9
	XORQ         AX, AX

stepLoop:
	CMPQ AX, CX
	JGE  stepDone

	// x += alpha·p
	VMOVUPD     (R8)(AX*8), Y0
	VMOVUPD     32(R8)(AX*8), Y1
	VFMADD231PD (R10)(AX*8), Y14, Y0
	VFMADD231PD 32(R10)(AX*8), Y14, Y1
	VMOVUPD     Y0, (R8)(AX*8)
	VMOVUPD     Y1, 32(R8)(AX*8)

	// r −= alpha·q
	VMOVUPD      (R9)(AX*8), Y2
	VMOVUPD      32(R9)(AX*8), Y3
	VFNMADD231PD (R11)(AX*8), Y14, Y2
	VFNMADD231PD 32(R11)(AX*8), Y14, Y3
	VMOVUPD      Y2, (R9)(AX*8)
	VMOVUPD      Y3, 32(R9)(AX*8)
	VFMADD231PD  Y2, Y2, Y8
	VFMADD231PD  Y3, Y3, Y9

	// z = inv·(r·scale)
	VMULPD      Y13, Y2, Y2
	VMULPD      Y13, Y3, Y3
	VCVTPD2PSY  Y2, X2
	VCVTPD2PSY  Y3, X3
	VINSERTF128 $1, X3, Y2, Y2
	VMULPS      (R13)(AX*4), Y2, Y2
	VMOVUPS     Y2, (R12)(AX*4)
	ADDQ        $8, AX
	JMP         stepLoop

stepDone:
	VADDPD Y9, Y8, Y8
	SUM4(Y8, X8, X1)
	VMOVSD X8, rr+16(FP)
	VZEROUPPER
	RET

// func directionCells8(p *float64, z *real, beta float64, n int)
TEXT ·directionCells8(SB), NOSPLIT, $0-32
	MOVQ         p+0(FP), DI
	MOVQ         z+8(FP), SI
	VBROADCASTSD beta+16(FP), Y14
	MOVQ         n+24(FP), CX
	XORQ         AX, AX

directionLoop:
	CMPQ        AX, CX
	JGE         directionDone
	VCVTPS2PD   (SI)(AX*4), Y0
	VCVTPS2PD   16(SI)(AX*4), Y1
	VFMADD231PD (DI)(AX*8), Y14, Y0
	VFMADD231PD 32(DI)(AX*8), Y14, Y1
	VMOVUPD     Y0, (DI)(AX*8)
	VMOVUPD     Y1, 32(DI)(AX*8)
	ADDQ        $8, AX
	JMP         directionLoop

directionDone:
	VZEROUPPER
	RET

// What the four kernels on a relaxRow share: its pointers, and in Y0 the sum
// of coupling·neighbour over the six faces of eight cells from AX.
// z and cx start one cell to the left of the row. Y6 holds z to the left of the
// eight cells: it is loaded before the eight before are stored, for a load that
// takes in part of a store just made has to wait. The one cell that may have
// changed meanwhile counts only for cells that are not active.
#define ROW \
	MOVQ    relaxRow_z(DI), SI    \
	MOVQ    relaxRow_ym(DI), R8   \
	MOVQ    relaxRow_yp(DI), R9   \
	MOVQ    relaxRow_zm(DI), R10  \
	MOVQ    relaxRow_zp(DI), R11  \
	MOVQ    relaxRow_cx(DI), R12  \
	MOVQ    relaxRow_cym(DI), R13 \
	MOVQ    relaxRow_cyp(DI), BX  \
	MOVQ    relaxRow_czm(DI), CX  \
	MOVQ    relaxRow_czp(DI), DX  \
	XORQ    AX, AX               \
	VMOVUPS (SI), Y6

#define FACES \
	VMULPS      (R12)(AX*4), Y6, Y0    \
	VMOVUPS     32(SI)(AX*4), Y6       \
	VMOVUPS     4(R12)(AX*4), Y1       \
	VMULPS      8(SI)(AX*4), Y1, Y1    \
	VMOVUPS     (R13)(AX*4), Y2        \
	VFMADD231PS (R8)(AX*4), Y2, Y0     \
	VMOVUPS     (BX)(AX*4), Y3         \
	VFMADD231PS (R9)(AX*4), Y3, Y1     \
	VMOVUPS     (CX)(AX*4), Y4         \
	VFMADD231PS (R10)(AX*4), Y4, Y0    \
	VMOVUPS     (DX)(AX*4), Y5         \
	VFMADD231PS (R11)(AX*4), Y5, Y1    \
	VADDPS      Y1, Y0, Y0

// func sweepCells8(r *relaxRow, active *[8]uint32, n int)
TEXT ·sweepCells8(SB), NOSPLIT, $0-24
	MOVQ    r+0(FP), DI
	MOVQ    active+8(FP), AX
	VMOVUPS (AX), Y15
	MOVQ    relaxRow_inv(DI), R15
	ROW

sweepLoop:
	CMPQ        AX, n+16(FP)
	JGE         sweepDone
	FACES
	VANDPS      Y15, Y0, Y0
	VMOVUPS     4(SI)(AX*4), Y1
	VFMADD231PS (R15)(AX*4), Y0, Y1 // z += inv·sum where active
	VMOVUPS     Y1, 4(SI)(AX*4)
	ADDQ        $8, AX
	JMP         sweepLoop

sweepDone:
	VZEROUPPER
	RET

// func leftoverCells8(r *relaxRow, active *[8]uint32, n int)
TEXT ·leftoverCells8(SB), NOSPLIT, $0-24
	MOVQ    r+0(FP), DI
	MOVQ    active+8(FP), AX
	VMOVUPS (AX), Y15
	MOVQ    relaxRow_t(DI), R15
	ROW

leftoverLoop:
	CMPQ    AX, n+16(FP)
	JGE     leftoverDone
	FACES
	VANDPS  Y15, Y0, Y0
	VMOVUPS Y0, (R15)(AX*4)
	ADDQ    $8, AX
	JMP     leftoverLoop

leftoverDone:
	VZEROUPPER
	RET

// Y0 = (r·scale + sum)·inv where active, else the old z; R15 = r, DI = inv,
// Y14 = scale. Stored to z.
#define RETURN \
	FACES                                  \
	VMULPD      (R15)(AX*8), Y14, Y1       \
	VMULPD      32(R15)(AX*8), Y14, Y2     \
	VCVTPD2PSY  Y1, X1                     \
	VCVTPD2PSY  Y2, X2                     \
	VINSERTF128 $1, X2, Y1, Y1             \
	VADDPS      Y1, Y0, Y0                 \
	VMULPS      (DI)(AX*4), Y0, Y0         \
	VMOVUPS     4(SI)(AX*4), Y1            \
	VBLENDVPS   Y15, Y0, Y1, Y0            \
	VMOVUPS     Y0, 4(SI)(AX*4)

// func returnCells8(r *relaxRow, active *[8]uint32, n int)
TEXT ·returnCells8(SB), NOSPLIT, $0-24
	MOVQ         r+0(FP), DI
	MOVQ         active+8(FP), AX
	VMOVUPS      (AX), Y15
	VBROADCASTSD relaxRow_scale(DI), Y14
	ROW
	MOVQ         relaxRow_r(DI), R15
	MOVQ         relaxRow_inv(DI), DI

returnLoop:
	CMPQ AX, n+16(FP)
	JGE  returnDone
	RETURN
	ADDQ $8, AX
	JMP  returnLoop

returnDone:
	VZEROUPPER
	RET

// func returnDotCells8(r *relaxRow, active *[8]uint32, n int) (zr, zq float64)
TEXT ·returnDotCells8(SB), NOSPLIT, $0-40
	MOVQ         r+0(FP), DI
	MOVQ         active+8(FP), AX
	VMOVUPS      (AX), Y15
	VBROADCASTSD relaxRow_scale(DI), Y14
	ROW
	MOVQ         relaxRow_q(DI), R14
	MOVQ         relaxRow_r(DI), R15
	MOVQ         relaxRow_inv(DI), DI
	VXORPD       Y8, Y8, Y8
	VXORPD       Y9, Y9, Y9
	VXORPD       Y10, Y10, Y10
	VXORPD       Y11, Y11, Y11

returnDotLoop:
	CMPQ AX, n+16(FP)
	JGE  returnDotDone
	RETURN
	VEXTRACTF128 $1, Y0, X1
	VCVTPS2PD    X0, Y0
	VCVTPS2PD    X1, Y1
	VFMADD231PD  (R15)(AX*8), Y0, Y8
	VFMADD231PD  32(R15)(AX*8), Y1, Y9
	VFMADD231PD  (R14)(AX*8), Y0, Y10
	VFMADD231PD  32(R14)(AX*8), Y1, Y11
	ADDQ         $8, AX
	JMP          returnDotLoop

returnDotDone:
	VADDPD Y9, Y8, Y8
	VADDPD Y11, Y10, Y10
	SUM4(Y8, X8, X1)
	SUM4(Y10, X10, X1)
	VMOVSD X8, zr+24(FP)
	VMOVSD X10, zq+32(FP)
	VZEROUPPER
	RET

// Y2 = x[col] of eight entries from AX: x at R8, col at R10. Single loads are
// quicker than VGATHERDPS on the machines we measured. Uses R14, R15.
#define GATHER \
	MOVL        (R10)(AX*4), R14               \
	MOVL        4(R10)(AX*4), R15              \
	VMOVSS      (R8)(R14*4), X2                \
	VINSERTPS   $0x10, (R8)(R15*4), X2, X2     \
	MOVL        16(R10)(AX*4), R14             \
	MOVL        20(R10)(AX*4), R15             \
	VMOVSS      (R8)(R14*4), X3                \
	VINSERTPS   $0x10, (R8)(R15*4), X3, X3     \
	MOVL        8(R10)(AX*4), R14              \
	MOVL        12(R10)(AX*4), R15             \
	VINSERTPS   $0x20, (R8)(R14*4), X2, X2     \
	VINSERTPS   $0x30, (R8)(R15*4), X2, X2     \
	MOVL        24(R10)(AX*4), R14             \
	MOVL        28(R10)(AX*4), R15             \
	VINSERTPS   $0x20, (R8)(R14*4), X3, X3     \
	VINSERTPS   $0x30, (R8)(R15*4), X3, X3     \
	VINSERTF128 $1, X3, Y2, Y2

// func relaxSlices8(m *sliced, x, b *real, end *int32, first, last int)
TEXT ·relaxSlices8(SB), NOSPLIT, $0-48
	MOVQ m+0(FP), DI
	MOVQ x+8(FP), R8
	MOVQ b+16(FP), SI
	MOVQ end+24(FP), R12
	MOVQ first+32(FP), BX
	MOVQ sliced_begin(DI), R11
	MOVQ sliced_w(DI), R9
	MOVQ sliced_col(DI), R10
	MOVQ sliced_inv(DI), R13
	MOVQ BX, CX
	SHLQ $3, CX

relaxSlice:
	CMPQ    BX, last+40(FP)
	JGE     relaxDone
	MOVLQSX (R11)(BX*4), AX
	MOVLQSX (R12)(BX*4), DX
	VMOVUPS (SI)(CX*4), Y0

relaxEntry:
	CMPQ        AX, DX
	JGE         relaxEnd
	GATHER
	VFMADD231PS (R9)(AX*4), Y2, Y0
	ADDQ        $8, AX
	JMP         relaxEntry

relaxEnd:
	VMULPS  (R13)(CX*4), Y0, Y0
	VMOVUPS Y0, (R8)(CX*4)
	ADDQ    $8, CX
	INCQ    BX
	JMP     relaxSlice

relaxDone:
	VZEROUPPER
	RET

// func upperSlices8(m *sliced, t, x *real, first, last int)
TEXT ·upperSlices8(SB), NOSPLIT, $0-40
	MOVQ m+0(FP), DI
	MOVQ t+8(FP), SI
	MOVQ x+16(FP), R8
	MOVQ first+24(FP), BX
	MOVQ sliced_begin(DI), R11
	MOVQ sliced_middle(DI), R12
	MOVQ sliced_w(DI), R9
	MOVQ sliced_col(DI), R10
	MOVQ BX, CX
	SHLQ $3, CX

upperSlice:
	CMPQ    BX, last+32(FP)
	JGE     upperDone
	MOVLQSX (R12)(BX*4), AX
	MOVLQSX 4(R11)(BX*4), DX
	VXORPS  Y0, Y0, Y0

upperEntry:
	CMPQ        AX, DX
	JGE         upperEnd
	GATHER
	VFMADD231PS (R9)(AX*4), Y2, Y0
	ADDQ        $8, AX
	JMP         upperEntry

upperEnd:
	VMOVUPS Y0, (SI)(CX*4)
	ADDQ    $8, CX
	INCQ    BX
	JMP     upperSlice

upperDone:
	VZEROUPPER
	RET

// func applySlices8(m *sliced, v, x, b *real, first, last int) (xv, xb, bb float64)
TEXT ·applySlices8(SB), NOSPLIT, $0-72
	MOVQ   m+0(FP), DI
	MOVQ   v+8(FP), R12
	MOVQ   x+16(FP), R8
	MOVQ   b+24(FP), SI
	MOVQ   first+32(FP), BX
	MOVQ   sliced_begin(DI), R11
	MOVQ   sliced_w(DI), R9
	MOVQ   sliced_col(DI), R10
	MOVQ   sliced_excess(DI), R13
	MOVQ   BX, CX
	SHLQ   $3, CX
	VXORPD Y10, Y10, Y10
	VXORPD Y11, Y11, Y11
	VXORPD Y12, Y12, Y12

applySlice:
	CMPQ    BX, last+40(FP)
	JGE     applySlicesDone
	MOVLQSX (R11)(BX*4), AX
	MOVLQSX 4(R11)(BX*4), DX
	VMOVUPS (R8)(CX*4), Y9
	VMULPS  (R13)(CX*4), Y9, Y0

applyEntry:
	CMPQ        AX, DX
	JGE         applyEnd
	GATHER
	VSUBPS      Y2, Y9, Y2             // x − x_neighbour
	VFMADD231PS (R9)(AX*4), Y2, Y0
	ADDQ        $8, AX
	JMP         applyEntry

applyEnd:
	VMOVUPS      Y0, (R12)(CX*4)
	VEXTRACTF128 $1, Y9, X5
	VCVTPS2PD    X9, Y4                // x
	VCVTPS2PD    X5, Y5
	VEXTRACTF128 $1, Y0, X7
	VCVTPS2PD    X0, Y6                // v
	VCVTPS2PD    X7, Y7
	VFMADD231PD  Y4, Y6, Y10
	VFMADD231PD  Y5, Y7, Y10
	VCVTPS2PD    (SI)(CX*4), Y6        // b
	VCVTPS2PD    16(SI)(CX*4), Y7
	VFMADD231PD  Y4, Y6, Y11
	VFMADD231PD  Y5, Y7, Y11
	VFMADD231PD  Y6, Y6, Y12
	VFMADD231PD  Y7, Y7, Y12
	ADDQ         $8, CX
	INCQ         BX
	JMP          applySlice

applySlicesDone:
	SUM4(Y10, X10, X1)
	SUM4(Y11, X11, X1)
	SUM4(Y12, X12, X1)
	VMOVSD X10, xv+48(FP)
	VMOVSD X11, xb+56(FP)
	VMOVSD X12, bb+64(FP)
	VZEROUPPER
	RET

// func stepBack8(b, v *real, f real, n int) (bb float64)
TEXT ·stepBack8(SB), NOSPLIT, $0-40
	MOVQ         b+0(FP), DI
	MOVQ         v+8(FP), SI
	VBROADCASTSS f+16(FP), Y15
	MOVQ         n+24(FP), CX
	VXORPD       Y8, Y8, Y8
	VXORPD       Y9, Y9, Y9
	XORQ         AX, AX

backLoop:
	CMPQ         AX, CX
	JGE          backDone
	VMOVUPS      (DI)(AX*4), Y0
	VFNMADD231PS (SI)(AX*4), Y15, Y0 // b −= f·v
	VMOVUPS      Y0, (DI)(AX*4)
	VEXTRACTF128 $1, Y0, X1
	VCVTPS2PD    X0, Y0
	VCVTPS2PD    X1, Y1
	VFMADD231PD  Y0, Y0, Y8
	VFMADD231PD  Y1, Y1, Y9
	ADDQ         $8, AX
	JMP          backLoop

backDone:
	VADDPD Y9, Y8, Y8
	SUM4(Y8, X8, X1)
	VMOVSD X8, bb+32(FP)
	VZEROUPPER
	RET

// func dot8(a, b *real, n int) float64
TEXT ·dot8(SB), NOSPLIT, $0-32
	MOVQ   a+0(FP), DI
	MOVQ   b+8(FP), SI
	MOVQ   n+16(FP), CX
	VXORPD Y8, Y8, Y8
	VXORPD Y9, Y9, Y9
	XORQ   AX, AX

dotLoop:
	CMPQ        AX, CX
	JGE         dotDone
	VCVTPS2PD   (DI)(AX*4), Y0
	VCVTPS2PD   16(DI)(AX*4), Y1
	VCVTPS2PD   (SI)(AX*4), Y2
	VCVTPS2PD   16(SI)(AX*4), Y3
	VFMADD231PD Y0, Y2, Y8
	VFMADD231PD Y1, Y3, Y9
	ADDQ        $8, AX
	JMP         dotLoop

dotDone:
	VADDPD Y9, Y8, Y8
	SUM4(Y8, X8, X1)
	VMOVSD X8, ret+24(FP)
	VZEROUPPER
	RET

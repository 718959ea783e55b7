/* March: the fast half of the physics, compiled at set-up and called from kernel.py.

   One call works on one group of eight lanes; a lane is one wall (or one slice of it). Arrays are laid out
   [cell][entry][lane], so that the eight lanes of one entry lie side by side and one vector holds them. Each
   formula below is written for a single lane; the loops over lanes are what the compiler turns into vectors.
   Lanes never branch apart: both sides of a choice are computed and one is kept.

   The same bits come out of every compiler, CPU and vector width: products and sums are fused where the text says so
   and nowhere else, nothing is reassociated, and the library's mathematics stay out but for fabs and fma, whose
   answers are exact by definition. Copies for wide vectors use the CPU's own fma; the narrow one does so where every
   CPU of its kind has it (ARM), and else is slow and equal. There are no threads and no state here.

   First part: block-tridiagonal systems with blocks of 2 x 2, by block elimination without exchanging cells
   (Golub and Van Loan, Matrix Computations, 4th ed., section 4.5.1). Each block is inverted by its adjugate: for
   2 x 2 that is forward stable (Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed., section 1.10.1)
   and does not mind how the two rows or the two columns are scaled. Valid where the pivot blocks stay regular,
   as in diagonally dominant systems; a lane where one does not is reported, and its answer means nothing.

   Second part: heat, air and moisture through a wall. march_wall.h has one cell and what flows between two,
   march_newton.h their linear system, march_step.h the steps, march_run.h the run; transport.py has the same equations
   to read. */

#include "march_lanes.h"

/* MARCH_SOLVE_ONLY leaves the second part out, MARCH_NARROW the wider copies, for tools that take long over each. */
#ifndef MARCH_SOLVE_ONLY
#include "march_run.h"
#endif

/* A pivot block whose determinant has lost all but the last 5 of its 53 bits is taken as singular. */
static const double SINGULAR_BELOW = 0x1p-48;

/* ---- eight lanes: block-tridiagonal solve ------------------------------------------------------------------ */

/* Elimination downwards. Leaves inverse(pivot) * upper in `factor` and inverse(pivot) * rhs in `x`. */
INLINE void eliminate(int64_t cells, const double *restrict lower, const double *restrict diagonal,
                      const double *restrict upper, const double *restrict rhs, double *restrict x,
                      double *restrict factor, double *restrict singular)
{
    double above_factor[BLOCK] = {0.0}, above_x[PAIR] = {0.0};

    EACH_LANE singular[lane] = -1.0;
    for (int64_t cell = 0; cell < cells; cell++) {
        const double at = (double)cell;
        EACH_LANE {
            const block low = block_at(lower + BLOCK * cell, lane), dia = block_at(diagonal + BLOCK * cell, lane);
            const block up = block_at(upper + BLOCK * cell, lane), above = block_at(above_factor, lane);
            const block pivot = less_product(dia, low, above);
            const block size = with_product(magnitude(dia), magnitude(low), magnitude(above));
            const double determinant = determinant_of(pivot);
            const double largest = fused(size.a, size.d, size.b * size.c);
            const double here = fabs(determinant) > SINGULAR_BELOW * largest ? -1.0 : at;
            const block inverted = inverse(pivot, determinant);
            const block f = product(inverted, up);
            const pair v = applied(inverted, less_applied(pair_at(rhs + PAIR * cell, lane), low,
                                                          pair_at(above_x, lane)));
            put_block(above_factor, lane, f);
            put_block(factor + BLOCK * cell, lane, f);
            put_pair(above_x, lane, v);
            put_pair(x + PAIR * cell, lane, v);
            singular[lane] = singular[lane] < 0.0 ? here : singular[lane];
        }
    }
}

/* Substitution upwards, from `x` and `factor` as eliminate() left them. */
INLINE void substitute(int64_t cells, const double *restrict factor, double *restrict x)
{
    double below[PAIR] = {0.0};

    for (int64_t cell = cells - 1; cell >= 0; cell--) {
        EACH_LANE {
            const block f = block_at(factor + BLOCK * cell, lane);
            const pair v = less_applied(pair_at(x + PAIR * cell, lane), f, pair_at(below, lane));
            put_pair(below, lane, v);
            put_pair(x + PAIR * cell, lane, v);
        }
    }
}

INLINE void solve(int64_t cells, const double *lower, const double *diagonal, const double *upper,
                  const double *rhs, double *x, double *factor, double *singular)
{
    eliminate(cells, lower, diagonal, upper, rhs, x, factor, singular);
    substitute(cells, factor, x);
}

/* ---- one copy per vector width, chosen by the caller ------------------------------------------------------- */

#ifndef MARCH_SOLVE_ONLY

/* The march at one width: the heavy functions once each, then the run that calls them. */
#define ALONE __attribute__((noinline))
#define MARCH(width, TARGET)                                                                                         \
    TARGET ALONE static void properties_##width(const walls *v, int64_t cell, const double *y, const double *lift,   \
                                          double *p)                                                                 \
    {                                                                                                                \
        const water w = v->w;                                                                                        \
        const double coldest = least_of(y);                                                                          \
        properties(v, &w, cell, 1, &coldest, y, lift, &p);                                                           \
    }                                                                                                                \
    TARGET ALONE static void newton_##width(const walls *v, place *r, const double *at, const double *span,          \
                                      double *first, double *last)                                                   \
    {                                                                                                                \
        newton(v, r, at, span, first, last);                                                                         \
    }                                                                                                                \
    TARGET static int64_t march_##width(const walls *v)                                                              \
    {                                                                                                                \
        const engine e = {properties_##width, newton_##width};                                                       \
        return march(&e, v);                                                                                         \
    }

MARCH(128, )

#else
#define MARCH(width, TARGET)
#endif

#if defined(__x86_64__) && defined(__GNUC__) && !defined(MARCH_NARROW)

#include <cpuid.h>

#define WIDE __attribute__((target("avx2,fma")))
#define WIDEST __attribute__((target("avx512f,avx512dq,avx512vl,fma")))

/* Which registers the operating system saves: bits 1-2 for AVX, 5-7 for AVX-512 as well. */
static uint32_t saved_registers(void)
{
    uint32_t low, high;
    __asm__ volatile("xgetbv" : "=a"(low), "=d"(high) : "c"(0));
    return low;
}

/* Widest vector that this CPU and its operating system carry [bit]. Asked here because not every compiler's own
   question (__builtin_cpu_supports) is answered truly. Bits from the CPUID tables of the vendor's manual. */
PUBLIC int64_t march_widest(void)
{
    const uint32_t avx2 = 1u << 5, avx512 = 1u << 16 | 1u << 17 | 1u << 31, xsave_and_fma = 1u << 27 | 1u << 12;
    uint32_t eax, ebx, ecx, edx, features;

    if (!__get_cpuid(1, &eax, &ebx, &ecx, &edx) || (ecx & xsave_and_fma) != xsave_and_fma)
        return 128;
    if (!__get_cpuid_count(7, 0, &eax, &features, &ecx, &edx))
        return 128;
    if ((features & avx512) == avx512 && (saved_registers() & 0xe6) == 0xe6)
        return 512;
    return (features & avx2) && (saved_registers() & 0x06) == 0x06 ? 256 : 128;
}

WIDE static void solve_256(int64_t cells, const double *lower, const double *diagonal, const double *upper,
                           const double *rhs, double *x, double *factor, double *singular)
{
    solve(cells, lower, diagonal, upper, rhs, x, factor, singular);
}

WIDEST static void solve_512(int64_t cells, const double *lower, const double *diagonal, const double *upper,
                             const double *rhs, double *x, double *factor, double *singular)
{
    solve(cells, lower, diagonal, upper, rhs, x, factor, singular);
}

MARCH(256, WIDE)
MARCH(512, WIDEST)

#else

PUBLIC int64_t march_widest(void) { return 128; }
#define solve_256 solve
#define solve_512 solve
#define march_256 march_128
#define march_512 march_128

#endif

/* lower, diagonal, upper and factor are [cells][4][LANES], rhs and x [cells][2][LANES]; singular [LANES] gets the first
   cell whose pivot block is singular, or -1. The lower block of the first cell and the upper of the last are zero.
   `width` is at most march_widest() and changes no bit of the answer. */
PUBLIC void march_solve(int64_t width, int64_t cells, const double *lower, const double *diagonal,
                        const double *upper, const double *rhs, double *x, double *factor, double *singular)
{
    if (width >= 512)
        solve_512(cells, lower, diagonal, upper, rhs, x, factor, singular);
    else if (width >= 256)
        solve_256(cells, lower, diagonal, upper, rhs, x, factor, singular);
    else
        solve(cells, lower, diagonal, upper, rhs, x, factor, singular);
}

#ifndef MARCH_SOLVE_ONLY

/* Marches one group of eight walls, see march_newton.h for the arrays; gives the hours done. */
PUBLIC int64_t march_walls(int64_t width, const walls *v)
{
    return width >= 512 ? march_512(v) : width >= 256 ? march_256(v) : march_128(v);
}

/* Numbers of doubles that the caller lays out: per cell for work, and rows of each table. */
PUBLIC int64_t march_sizes(int64_t which)
{
    const int64_t sizes[] = {WORK, MATERIAL, SPECIAL, SERIES, LEDGER, FAULT, sizeof(walls)};
    return sizes[which];
}

#include "march_rates.h"

#endif

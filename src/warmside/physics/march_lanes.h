/* Eight lanes, 2 x 2 blocks, and the exponential and the logarithm of march.c. */

#ifndef MARCH_LANES_H
#define MARCH_LANES_H

#include <math.h>
#include <stdint.h>
#include <string.h>

enum { LANES = 8, BLOCK = 4 * LANES, PAIR = 2 * LANES };

#define INLINE static inline __attribute__((always_inline))
#define PUBLIC __attribute__((visibility("default")))

/* Tells the compiler that the lanes are independent; it keeps every operation and its order. */
#define EACH_LANE _Pragma("omp simd") for (int lane = 0; lane < LANES; lane++)
/* Whole vectors lie in one line of the cache. */
#define ALIGNED _Alignas(64)
/* Row k of a table whose lanes lie side by side. */
#define AT(table, k) (table)[(k) * LANES + lane]

/* ---- one lane: a product and a sum rounded once ------------------------------------------------------------ */

/* a b + c, rounded once: an instruction where the CPU has one, else the library's function, slow and equal.
   MARCH_UNFUSED rounds twice, for the test that no compiler fuses anything else. */
#ifdef MARCH_UNFUSED
INLINE double fused(double a, double b, double c) { return a * b + c; }
#else
INLINE double fused(double a, double b, double c) { return __builtin_fma(a, b, c); }
#endif

/* Polynomials by their coefficients, that of the lowest power first. */
INLINE double line(double x, double a, double b) { return fused(x, b, a); }
INLINE double parabola(double x, double a, double b, double c) { return fused(x, line(x, b, c), a); }
INLINE double cubic(double x, double a, double b, double c, double d) { return fused(x, parabola(x, b, c, d), a); }

/* ---- one lane: 2 x 2 blocks, named row by row, and pairs -------------------------------------------------- */

typedef struct { double a, b, c, d; } block;
typedef struct { double x, y; } pair;

INLINE block block_at(const double *p, int lane)
{
    return (block){p[lane], p[LANES + lane], p[2 * LANES + lane], p[3 * LANES + lane]};
}

INLINE void put_block(double *p, int lane, block m)
{
    p[lane] = m.a;
    p[LANES + lane] = m.b;
    p[2 * LANES + lane] = m.c;
    p[3 * LANES + lane] = m.d;
}

INLINE pair pair_at(const double *p, int lane) { return (pair){p[lane], p[LANES + lane]}; }

INLINE void put_pair(double *p, int lane, pair v)
{
    p[lane] = v.x;
    p[LANES + lane] = v.y;
}

INLINE block product(block m, block n)
{
    return (block){fused(m.a, n.a, m.b * n.c), fused(m.a, n.b, m.b * n.d),
                   fused(m.c, n.a, m.d * n.c), fused(m.c, n.b, m.d * n.d)};
}

INLINE pair applied(block m, pair v) { return (pair){fused(m.a, v.x, m.b * v.y), fused(m.c, v.x, m.d * v.y)}; }
INLINE block magnitude(block m) { return (block){fabs(m.a), fabs(m.b), fabs(m.c), fabs(m.d)}; }

/* k + m n and k - m n, w - m v. */
INLINE block with_product(block k, block m, block n)
{
    return (block){fused(m.a, n.a, fused(m.b, n.c, k.a)), fused(m.a, n.b, fused(m.b, n.d, k.b)),
                   fused(m.c, n.a, fused(m.d, n.c, k.c)), fused(m.c, n.b, fused(m.d, n.d, k.d))};
}

INLINE block less_product(block k, block m, block n)
{
    return with_product(k, (block){-m.a, -m.b, -m.c, -m.d}, n);
}

INLINE pair less_applied(pair w, block m, pair v)
{
    return (pair){fused(-m.a, v.x, fused(-m.b, v.y, w.x)), fused(-m.c, v.x, fused(-m.d, v.y, w.y))};
}

INLINE double determinant_of(block m) { return fused(m.a, m.d, -(m.b * m.c)); }

INLINE block inverse(block m, double determinant)
{
    double s = 1.0 / determinant;
    return (block){m.d * s, -m.b * s, -m.c * s, m.a * s};
}

/* ---- one lane: exponential and logarithm, the same bits everywhere ----------------------------------------- */

INLINE double larger(double a, double b) { return a > b ? a : b; }
INLINE double smaller(double a, double b) { return a < b ? a : b; }
INLINE double within(double low, double x, double high) { return smaller(larger(low, x), high); }

INLINE uint64_t bits_of(double x)
{
    uint64_t b;
    memcpy(&b, &x, sizeof b);
    return b;
}

INLINE double of_bits(uint64_t b)
{
    double x;
    memcpy(&x, &b, sizeof x);
    return x;
}

static const double LN2 = 0x1.62e42fefa39efp-1, LOG2_E = 0x1.71547652b82fep+0;
/* Adding this to a double rounds it to a whole number, whose bits then stand lowest. */
static const double ROUNDS = 0x1.8p+52;

/* e^x within 5e-14 of its value, x kept to -700..700. Within half of ln 2 it is 1 + r and the polynomial of eight
   further powers whose greatest error there is least (Remez). */
INLINE double exponential(double x)
{
    const double kept = within(-700.0, x, 700.0), whole = fused(kept, LOG2_E, ROUNDS), n = whole - ROUNDS;
    const double r = fused(n, -LN2, kept), r2 = r * r;
    const double p1 = line(r, 0x1.fffffffff1301p-2, 0x1.555555558a317p-3);
    const double p2 = line(r, 0x1.5555557e0e109p-5, 0x1.1111108dacdbbp-7);
    const double p3 = line(r, 0x1.6c163ba49d306p-10, 0x1.a01b749814797p-13);
    const double p4 = line(r, 0x1.a16e8a39d4360p-16, 0x1.7100f38826badp-19);
    const double further = fused(r2 * r2, fused(r2, p4, p3), fused(r2, p2, p1));
    const double power = fused(r2, further, 1.0 + r);
    return of_bits(bits_of(power) + (bits_of(whole) << 52));
}

/* ln x within 1e-14, or that share of it where it is over 1; x a normal number over 0. 2 artanh(f / (2 + f)) from its
   first power and the five further odd ones whose greatest error is least (Remez). */
INLINE double logarithm(double x)
{
    const uint64_t root_half = 0x3fe6a09e667f3bcd, one = (uint64_t)1023 << 52;
    const uint64_t raised = bits_of(x) - root_half + one, power = raised >> 52;
    const double n = of_bits(0x4338000000000000 + power) - (ROUNDS + 1023.0);
    const double f = of_bits(bits_of(x) - ((raised - one) & 0xfff0000000000000)) - 1.0;
    const double s = f / (2.0 + f), z = s * s, z2 = z * z;
    const double p1 = line(z, 0x1.55555556b376bp-1, 0x1.99999568f27b1p-2);
    const double p2 = line(z, 0x1.249484233b144p-2, 0x1.c609d4f84debap-3);
    const double series = fused(z2, fused(z2, 0x1.92c9e15bad928p-3, p2), p1);
    return fused(n, LN2, s * fused(z, series, 2.0));
}

#endif

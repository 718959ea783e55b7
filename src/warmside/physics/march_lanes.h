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
/* Row k of a table whose lanes lie side by side. */
#define AT(table, k) (table)[(k) * LANES + lane]

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
    return (block){m.a * n.a + m.b * n.c, m.a * n.b + m.b * n.d,
                   m.c * n.a + m.d * n.c, m.c * n.b + m.d * n.d};
}

INLINE pair applied(block m, pair v) { return (pair){m.a * v.x + m.b * v.y, m.c * v.x + m.d * v.y}; }
INLINE pair pair_less(pair v, pair w) { return (pair){v.x - w.x, v.y - w.y}; }
INLINE block block_less(block m, block n) { return (block){m.a - n.a, m.b - n.b, m.c - n.c, m.d - n.d}; }
INLINE block block_plus(block m, block n) { return (block){m.a + n.a, m.b + n.b, m.c + n.c, m.d + n.d}; }
INLINE block magnitude(block m) { return (block){fabs(m.a), fabs(m.b), fabs(m.c), fabs(m.d)}; }

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

/* ln 2 in two parts, the first short enough that whole multiples of it are exact. */
static const double LN2_HIGH = 0x1.62e42fefa3800p-1, LN2_LOW = 0x1.ef35793c76730p-45, LOG2_E = 0x1.71547652b82fep+0;
/* Adding this to a double rounds it to a whole number, whose bits then stand lowest. */
static const double ROUNDS = 0x1.8p+52;

/* e^x within 3e-13 of its value, x kept to -700..700: Taylor's series to the 10th power within half of ln 2. */
INLINE double exponential(double x)
{
    const double kept = within(-700.0, x, 700.0), whole = kept * LOG2_E + ROUNDS, n = whole - ROUNDS;
    const double r = (kept - n * LN2_HIGH) - n * LN2_LOW, r2 = r * r, r4 = r2 * r2;
    const double p0 = 1.0 + r, p1 = 1.0 / 2.0 + r * (1.0 / 6.0), p2 = 1.0 / 24.0 + r * (1.0 / 120.0);
    const double p3 = 1.0 / 720.0 + r * (1.0 / 5040.0), p4 = 1.0 / 40320.0 + r * (1.0 / 362880.0);
    const double low = p0 + r2 * p1, middle = p2 + r2 * p3, high = p4 + r2 * (1.0 / 3628800.0);
    return (low + r4 * (middle + r4 * high)) * of_bits((bits_of(whole) << 52) + ((uint64_t)1023 << 52));
}

/* ln x within 5e-13, x a normal number over 0: twice the series of artanh(f / (2 + f)) to the 15th power. */
INLINE double logarithm(double x)
{
    const uint64_t root_half = 0x3fe6a09e667f3bcd, one = (uint64_t)1023 << 52;
    const uint64_t raised = bits_of(x) - root_half + one, power = raised >> 52;
    const double n = of_bits(0x4338000000000000 + power) - (ROUNDS + 1023.0);
    const double f = of_bits(bits_of(x) - ((raised - one) & 0xfff0000000000000)) - 1.0;
    const double s = f / (2.0 + f), z = s * s, z2 = z * z;
    const double p0 = 2.0 / 3.0 + z * (2.0 / 5.0), p1 = 2.0 / 7.0 + z * (2.0 / 9.0);
    const double p2 = 2.0 / 11.0 + z * (2.0 / 13.0), series = p0 + z2 * p1 + z2 * z2 * (p2 + z2 * (2.0 / 15.0));
    return n * LN2_HIGH + (2.0 * s + (s * z * series + n * LN2_LOW));
}

#endif

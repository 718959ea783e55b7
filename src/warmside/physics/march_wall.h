/* What the material functions say of one cell, and what flows between two: with slopes to both unknowns.

   The unknowns of a cell are its temperature t [C] and its potential x: ln of the suction of the total water
   while x is over `free`, below that a count of free water on the cell. transport.py has the equations to read,
   water.py and materials.py the functions; names and order here are those of kernel.py. */

#ifndef MARCH_WALL_H
#define MARCH_WALL_H

#include "march_lanes.h"

enum material {
    M_CAPACITY, M_DRY, M_PER_KELVIN, M_PER_WATER, M_BEND, M_SATURATED, M_LOG_SCALE, M_EXPONENT, M_POWER,
        M_VAPOUR_BASE, M_VAPOUR_RISE, M_VAPOUR_STEEPNESS, M_FILLING, M_WETS, M_LIQUID_0, M_LIQUID_1, M_LIQUID_2,
        M_LIQUID_3, M_LIQUID_4, M_LIQUID_5, M_LIQUID_EXPONENT, M_FREE, M_FREE_SUCTION, B_CONTACT, B_MEMBRANE,
        B_BASE, B_RISE, B_STEEPNESS, B_LEAKS, MATERIAL };

/* What some lane of a layer needs; what none needs is left out, and would have changed no bit. FROSTS: it conducts no
   liquid, so that frost stands on it. */
enum kind { WETS = 1, FILLS = 2, BENDS = 4, RISES = 8, FROSTS = 16 };

/* Cells whose properties are worked out side by side. */
enum { TOGETHER = 2 };

/* Functions of water, the same for all lanes; water.py says what each is. */
typedef struct {
    double pole, saturation[6], melting, freezing[3], rounding, diffusion[4], diffusion_at;
    double gas, density, vaporisation, vapour_heat, liquid_heat, ice_heat, fusion, free_per_unit, dry_air, pressure;
} water;

/* A number with its slopes to t and x of its own cell. */
typedef struct { double v, t, x; } sloped;

enum property {
    P_T, P_VAPOUR, P_VAPOUR_PATH = P_VAPOUR + 3, P_HEAT_PATH = P_VAPOUR_PATH + 3, P_LOG_LIQUID = P_HEAT_PATH + 3,
        P_DRYNESS = P_LOG_LIQUID + 3, P_MOBILITY = P_DRYNESS + 3, P_LOG_MOBILITY, P_MOBILITY_SLOPE, P_WIDTH,
        P_MARGIN, P_CARE, P_WATER, P_ENERGY = P_WATER + 3, PROPERTY = P_ENERGY + 3 };

INLINE sloped sloped_at(const double *p, int index, int lane)
{
    return (sloped){AT(p, index), AT(p, index + 1), AT(p, index + 2)};
}

INLINE void put_sloped(double *p, int index, int lane, sloped s)
{
    AT(p, index) = s.v;
    AT(p, index + 1) = s.t;
    AT(p, index + 2) = s.x;
}

/* Value and slope of the share of free water or pore water that is frozen, by its distance from freezing. */
INLINE double frozen_share(double q) { return q * q * line(q, 0.75, -0.25); }

/* ln of the saturation pressure over liquid water; `per` is 1 / (pole + t). Numerator and slope by Horner's rule. */
INLINE sloped log_saturation(const water *w, double t, double per)
{
    const double *c = w->saturation;
    const double p4 = line(t, c[4], c[5]), p3 = fused(t, p4, c[3]), p2 = fused(t, p3, c[2]), p1 = fused(t, p2, c[1]);
    const double value = fused(t, p1, c[0]) * per, slope = cubic(t, p1, p2, p3, fused(t, c[5], p4));
    return (sloped){value, (slope - value) * per, 0.0};
}

/* Suction at which pore water freezes and its slope to t. */
INLINE sloped freezing_suction(const water *w, double t)
{
    const double at = t - w->melting, *c = w->freezing;
    return (sloped){at * parabola(at, c[0], c[1], c[2]), parabola(at, c[0], 2.0 * c[1], 3.0 * c[2]), 0.0};
}

/* Enthalpy of free water and its slope to t; it freezes as pore water at no suction does. */
INLINE sloped film_enthalpy(const water *w, double t)
{
    const double per = 1.0 / w->rounding, less = w->liquid_heat - w->ice_heat, melt = fused(less, t, w->fusion);
    const sloped f = freezing_suction(w, t);
    const double q = within(-1.0, f.v * per, 1.0) + 1.0, part = frozen_share(q);
    const double part_t = q * line(q, 1.5, -0.75) * (f.t * per);
    return (sloped){fused(w->liquid_heat, t, -part * melt), fused(-part, less, fused(-part_t, melt, w->liquid_heat)),
        0.0};
}

/* Degree of saturation at ln of a suction: its ln, itself, and the slope of its ln to that ln. */
typedef struct { double log, share, slope; } filled;

INLINE filled filling(const double *m, int lane, double log_suction)
{
    const double n = AT(m, M_EXPONENT), power = AT(m, M_POWER);
    const double grown = exponential(n * (AT(m, M_LOG_SCALE) + log_suction)), all = 1.0 + grown;
    const double log = -power * logarithm(all);
    return (filled){log, exponential(log), -power * n * (grown / all)};
}

/* How much nearer Newton's method must come where water is about to freeze or thaw. */
static const double CARE = 100.0;

/* How far p stands over a line that it leaves within a distance of -1 to 1 of it: the rounded corner, by q, which is
   that distance kept to -1..1 plus 1, and by how far it is beyond 1. */
INLINE double rounded(double q, double over)
{
    return fused(q * q * q, line(q, 0.25, -0.0625), 0.5 * (over + fabs(over)));
}

/* Least number of the lanes; one that is no number counts for nothing, so that no lane hides another. */
INLINE double least_of(const double *x)
{
    double least = 1e30;
    _Pragma("omp simd reduction(min : least)")
    for (int lane = 0; lane < LANES; lane++)
        least = smaller(least, smaller(x[lane], 1e30));
    return least;
}

/* Whether ice may form or melt at t: freezing is nearer than 5 times its rounding. */
INLINE int is_cold(const water *w, double t) { return t < w->melting - 5.0 * w->rounding / w->freezing[0]; }

/* How far frost lifts ln of the suction at which water stands free on a cell, and the slope of that to t, side by
   side: nothing where all lanes are warm, the coldest at `coldest`, or all conduct liquid. Pores that conduct none
   hold no ice: on them frost stands, at the suction where ice does. */
INLINE void cell_lift(const water *w, const double *m, int64_t kind, double coldest, const double *t, double *lift)
{
    ALIGNED double over[LANES], inside[LANES], slope[LANES];
    const double per = 1.0 / w->rounding;

    if (!(kind & FROSTS && is_cold(w, coldest))) {
        EACH_LANE put_pair(lift, lane, (pair){0.0, 0.0});
        return;
    }
    EACH_LANE {
        const sloped f = freezing_suction(w, t[lane]);
        const double above = (f.v - AT(m, M_FREE_SUCTION)) * per;
        inside[lane] = within(-1.0, above, 1.0) + 1.0;
        over[lane] = above - 1.0;
        slope[lane] = f.t;
    }
    EACH_LANE {
        const double moves = (1.0 - AT(m, M_WETS)) / AT(m, M_FREE_SUCTION), q = inside[lane];
        const double higher = fused(moves * w->rounding, rounded(q, over[lane]), 1.0);
        put_pair(lift, lane, (pair){logarithm(higher), moves * frozen_share(q) * slope[lane] / higher});
    }
}

/* Water of a cell: slope of ln of the suction of the total to t (`whole_t`); ln of the liquid's and its slopes;
   degrees of saturation of both and the slopes of their ln to these. */
typedef struct {
    ALIGNED double dry[LANES], whole_t[LANES], total[LANES], total_slope[LANES];
    double log[LANES], t[LANES], x[LANES], suction[LANES], share[LANES], log_share[LANES], slope[LANES];
    double care[LANES];
} liquids;

/* Whether some lane of a cell with margins over its free edge holds free water. */
INLINE int stands(const double *margin) { return least_of(margin) <= 0.0; }

/* Suction of the total water: the potential counts ln of it from the free edge up. All of it liquid, so far. */
INLINE void cell_water(const double *m, const double *y, const double *lift, liquids *l)
{
    EACH_LANE {
        const double x = y[LANES + lane], plain = AT(m, M_FREE), log = larger(x, plain) + lift[lane];
        const double dry = x > plain ? 1.0 : 0.0;
        const filled s = filling(m, lane, log);
        l->dry[lane] = l->x[lane] = dry;
        l->whole_t[lane] = l->t[lane] = lift[LANES + lane];
        l->log[lane] = log;
        l->suction[lane] = exponential(log);
        l->total[lane] = l->share[lane] = s.share;
        l->total_slope[lane] = l->slope[lane] = s.slope;
        l->log_share[lane] = s.log;
        l->care[lane] = 1.0;
    }
}

/* Liquid beside ice, in lanes that stand `above` the freezing suction (in units of the rounding, slope to t given).
   */
INLINE void cell_ice(const water *w, const double *m, const double *above, const double *slope, liquids *l)
{
    EACH_LANE {
        const double q = within(-1.0, above[lane], 1.0) + 1.0, part = frozen_share(q), old = l->suction[lane];
        const double p = fused(w->rounding, rounded(q, above[lane] - 1.0), old);
        const double log_p = logarithm(p), per_p = 1.0 / p, by_t = part * slope[lane] * per_p;
        const double by_x = (1.0 - part) * old * l->dry[lane] * per_p, plain = l->log[lane], plain_t = l->t[lane];
        const double plain_x = l->dry[lane], log = above[lane] > -1.0 ? log_p : plain;
        const filled s = filling(m, lane, log);
        l->log[lane] = log;
        l->t[lane] = above[lane] > -1.0 ? by_t : plain_t;
        l->x[lane] = above[lane] > -1.0 ? by_x : plain_x;
        l->suction[lane] = p;
        l->share[lane] = s.share;
        l->log_share[lane] = s.log;
        l->slope[lane] = s.slope;
    }
}

/* Freezing in a cell of which some lane is cold. */
INLINE void cell_freezing(const water *w, const double *m, int64_t kind, const double *y, liquids *l)
{
    ALIGNED double above[LANES], slope[LANES];
    const double per = 1.0 / w->rounding;
    double farthest = -2.0;

    EACH_LANE {
        const double near = fabs(freezing_suction(w, y[lane]).v * per) < 4.0 ? CARE : 1.0;
        l->care[lane] = l->dry[lane] > 0.0 ? 1.0 : near;
    }
    if (!(kind & WETS))
        return;
    EACH_LANE {
        const sloped f = freezing_suction(w, y[lane]);
        const double distance = (f.v - l->suction[lane]) * per, wets = AT(m, M_WETS);
        const double near = fabs(distance) < 4.0 ? CARE : 1.0, old = l->care[lane];
        slope[lane] = f.t;
        above[lane] = wets > 0.0 ? distance : -2.0;
        l->care[lane] = wets > 0.0 ? larger(near, old) : old;
    }
    _Pragma("omp simd reduction(max : farthest)")
    for (int lane = 0; lane < LANES; lane++)
        farthest = larger(farthest, larger(above[lane], -2.0));
    if (farthest > -1.0)
        cell_ice(w, m, above, slope, l);
}

/* Vapour pressure; P_DRYNESS is -ln of the humidity. */
INLINE void cell_vapour(const water *w, const double *y, const liquids *l, double *p)
{
    const double per_gas = 1.0 / (w->density * w->gas);
    EACH_LANE {
        const double t = y[lane], kelvin = t + 273.15, poled = w->pole + t, both = 1.0 / (kelvin * poled);
        const double per_kelvin = both * poled, a = l->suction[lane] * per_kelvin * per_gas;
        const sloped dryness = {a, a * (l->t[lane] - per_kelvin), a * l->x[lane]};
        const sloped saturation = log_saturation(w, t, both * kelvin);
        const double vapour = exponential(saturation.v - a);
        AT(p, P_T) = t;
        put_sloped(p, P_DRYNESS, lane, dryness);
        put_sloped(p, P_VAPOUR, lane, (sloped){vapour, vapour * (saturation.t - dryness.t), -vapour * dryness.x});
        put_sloped(p, P_LOG_LIQUID, lane, (sloped){l->log[lane], l->t[lane], l->x[lane]});
    }
}

/* Humidity over liquid water. */
INLINE sloped humidity_at(const double *p, int lane)
{
    const sloped dryness = sloped_at(p, P_DRYNESS, lane);
    const double phi = exponential(-dryness.v);
    return (sloped){phi, -phi * dryness.t, -phi * dryness.x};
}

/* Permeability relative to still air, with its slopes to t and x. */
INLINE void cell_permeability(const double *m, int64_t kind, const liquids *l, const double *p, double *relative,
    double *by_t, double *by_x)
{
    EACH_LANE relative[lane] = AT(m, M_VAPOUR_BASE), by_t[lane] = 0.0, by_x[lane] = 0.0;
    if (kind & RISES)
        EACH_LANE {
            const double steep = AT(m, M_VAPOUR_STEEPNESS);
            const sloped humidity = humidity_at(p, lane);
            const double risen = AT(m, M_VAPOUR_RISE) * exponential(steep * humidity.v), by_phi = risen * steep;
            relative[lane] += risen;
            by_t[lane] = by_phi * humidity.t;
            by_x[lane] = by_phi * humidity.x;
        }
    if (kind & FILLS)
        EACH_LANE {
            const double full = AT(m, M_FILLING), open = fused(-full, l->share[lane], 1.0);
            const double square = 0.503 * open * open, under = 1.0 / (square + 0.497), less = open * under;
            const double by_log = (square - 0.497) * under * under * full * l->share[lane] * l->slope[lane]
                * relative[lane];
            by_t[lane] = fused(by_t[lane], less, by_log * l->t[lane]);
            by_x[lane] = fused(by_x[lane], less, by_log * l->x[lane]);
            relative[lane] *= less;
        }
}

/* Resistances of heat and vapour from the middle of the cell to its faces. */
INLINE void cell_paths(const water *w, const double *m, int64_t kind, const double *width, const liquids *l,
    double *p)
{
    const double per_warm = 1.0 / w->diffusion_at, *d = w->diffusion;
    ALIGNED double relative[LANES], rel_t[LANES], rel_x[LANES], bent[LANES];

    cell_permeability(m, kind, l, p, relative, rel_t, rel_x);
    EACH_LANE bent[lane] = 1.0;
    if (kind & BENDS)
        EACH_LANE bent[lane] = 1.0 / fused(AT(m, M_BEND) * AT(m, M_SATURATED), l->total[lane], 1.0);
    EACH_LANE {
        const double t = AT(p, P_T), warm = fused(t + 273.15, per_warm, -1.0);
        const double air = d[0] * cubic(warm, 1.0, d[1], d[2], d[3]);
        const double air_t = d[0] * per_warm * parabola(warm, d[1], 2.0 * d[2], 3.0 * d[3]);
        const double content = AT(m, M_SATURATED) * l->total[lane], lambda_t = AT(m, M_PER_KELVIN);
        const double wet = AT(m, M_PER_WATER) * bent[lane], wetter = wet * bent[lane] * content * l->total_slope[lane];
        const double lambda = fused(lambda_t, t - 10.0, fused(wet, content, AT(m, M_DRY)));
        const double delta = air * relative[lane], one = 1.0 / (lambda * delta), half = 0.5 * width[lane];
        const double per_delta = one * lambda, per_lambda = one * delta;
        const double r_q = half * per_lambda, r_v = half * per_delta, by_q = -r_q * per_lambda, by_v = -r_v * per_delta;
        const double delta_t = fused(air_t, relative[lane], air * rel_t[lane]), delta_x = air * rel_x[lane];
        AT(p, P_WIDTH) = width[lane];
        put_sloped(p, P_VAPOUR_PATH, lane, (sloped){r_v, by_v * delta_t, by_v * delta_x});
        put_sloped(p, P_HEAT_PATH, lane, (sloped){r_q, by_q * fused(wetter, l->whole_t[lane], lambda_t),
            by_q * (wetter * l->dry[lane])});
    }
}

/* Liquid conductivity times suction, its ln, and the slope of that ln to ln of the suction. */
INLINE void cell_mobility(const double *m, const liquids *l, double *p)
{
    EACH_LANE {
        const double s = l->share[lane], power = AT(m, M_LIQUID_EXPONENT);
        const double p4 = line(s, AT(m, M_LIQUID_4), AT(m, M_LIQUID_5)), p3 = fused(s, p4, AT(m, M_LIQUID_3));
        const double p2 = fused(s, p3, AT(m, M_LIQUID_2)), p1 = fused(s, p2, AT(m, M_LIQUID_1));
        const double slope = cubic(s, p1, p2, p3, fused(s, AT(m, M_LIQUID_5), p4));
        const double log = fused(power, l->log_share[lane], fused(s, p1, AT(m, M_LIQUID_0)) + l->log[lane]);
        AT(p, P_MOBILITY) = exponential(log);
        AT(p, P_LOG_MOBILITY) = log;
        AT(p, P_MOBILITY_SLOPE) = fused(fused(s, slope, power), l->slope[lane], 1.0);
    }
}

/* Stored water and energy with their slopes. */
INLINE void cell_store(const water *w, const double *m, const double *width, const double *y, const liquids *l,
    double *p)
{
    const double less = w->liquid_heat - w->ice_heat;
    EACH_LANE {
        const double t = y[lane], dx = width[lane], ws = AT(m, M_SATURATED), content = ws * l->total[lane];
        const double by_log = content * l->total_slope[lane], content_t = by_log * l->whole_t[lane];
        const double content_x = by_log * l->dry[lane], w_l = ws * l->share[lane], w_i = content - w_l;
        const double w_l_l = w_l * l->slope[lane], melt = fused(less, t, w->fusion) * w_l_l;
        const double ice = fused(w->ice_heat, t, -w->fusion);
        const double heat = fused(w->liquid_heat, w_l, fused(w->ice_heat, w_i, AT(m, M_CAPACITY)));
        AT(p, P_MARGIN) = y[LANES + lane] - AT(m, M_FREE);
        AT(p, P_CARE) = l->care[lane];
        put_sloped(p, P_WATER, lane, (sloped){dx * content, dx * content_t, dx * content_x});
        put_sloped(p, P_ENERGY, lane, (sloped){dx * fused(heat, t, -w->fusion * w_i),
            dx * fused(melt, l->t[lane], fused(ice, content_t, heat)),
            dx * fused(ice, content_x, melt * l->x[lane])});
    }
}

/* Free water added to what is stored. */
INLINE void cell_film(const water *w, const double *m, const double *y, const liquids *l, double *p)
{
    EACH_LANE {
        const double below = AT(m, M_FREE) - y[LANES + lane], free = 0.5 * (below + fabs(below)) * w->free_per_unit;
        const sloped film = film_enthalpy(w, y[lane]);
        const sloped water_ = sloped_at(p, P_WATER, lane), energy = sloped_at(p, P_ENERGY, lane);
        const double per_unit = (1.0 - l->dry[lane]) * w->free_per_unit;
        put_sloped(p, P_WATER, lane, (sloped){water_.v + free, water_.t, water_.x - per_unit});
        put_sloped(p, P_ENERGY, lane, (sloped){fused(free, film.v, energy.v), fused(free, film.t, energy.t),
            fused(-per_unit, film.v, energy.x)});
    }
}

/* All properties of `count` neighbours of one layer, at most TOGETHER, each into a p[PROPERTY][LANES]; their y and
   lift, [2][LANES], lie `apart`; `coldest` is the lowest temperature of the lanes of each. Each step is done for all
   before the next: it would have to wait for the last one. */
INLINE void cell_properties(const water *w, const double *m, int64_t kind, int64_t count, const double *width,
    int64_t apart, const double *coldest, const double *y, const double *lift, double *const *p)
{
    liquids l[TOGETHER];

    for (int64_t i = 0; i < count; i++)
        cell_water(m, y + apart * i, lift + apart * i, l + i);
    for (int64_t i = 0; i < count; i++)
        if (is_cold(w, coldest[apart * i]))
            cell_freezing(w, m, kind, y + apart * i, l + i);
    for (int64_t i = 0; i < count; i++)
        cell_vapour(w, y + apart * i, l + i, p[i]);
    for (int64_t i = 0; i < count; i++) {
        cell_store(w, m, width + LANES * i, y + apart * i, l + i, p[i]);
        cell_paths(w, m, kind, width + LANES * i, l + i, p[i]);
        if (kind & WETS)
            cell_mobility(m, l + i, p[i]);
        else
            EACH_LANE AT(p[i], P_MOBILITY) = AT(p[i], P_MOBILITY_SLOPE) = 0.0;
        if (stands(p[i] + P_MARGIN * LANES))
            cell_film(w, m, y + apart * i, l + i, p[i]);
    }
}

/* ---- between two cells -------------------------------------------------------------------------------------- */

/* Water and energy across a face, towards the room, with slopes to t and x of the cells on both sides. */
enum crossing { C_WATER, C_ENERGY = 5, CROSSING = 10 };
typedef struct { double v, t0, x0, t1, x1; } flow;

INLINE flow flow_at(const double *p, int index, int lane)
{
    return (flow){AT(p, index), AT(p, index + 1), AT(p, index + 2), AT(p, index + 3), AT(p, index + 4)};
}

INLINE void put_flow(double *p, int index, int lane, flow f)
{
    AT(p, index) = f.v;
    AT(p, index + 1) = f.t0;
    AT(p, index + 2) = f.x0;
    AT(p, index + 3) = f.t1;
    AT(p, index + 4) = f.x1;
}

/* A conductance g times the difference of two potentials; g is 1 / (r0 + r1 + what does not change). */
INLINE flow through(double g, sloped u0, sloped u1, sloped r0, sloped r1)
{
    const double v = g * (u0.v - u1.v), by = -g * v;
    return (flow){v, fused(by, r0.t, g * u0.t), fused(by, r0.x, g * u0.x), fused(by, r1.t, -g * u1.t),
        fused(by, r1.x, -g * u1.x)};
}

/* `more` times one flow and another, whose slopes to both temperatures also rise by `carried` times the first. */
INLINE flow both_flows(double more, double carried, flow a, flow b)
{
    const double by = carried * a.v;
    return (flow){fused(more, a.v, b.v), fused(more, a.t0, b.t0 + by), fused(more, a.x0, b.x0),
        fused(more, a.t1, b.t1 + by), fused(more, a.x1, b.x1)};
}

/* Heat, vapour and liquid put together; the latter is a nothing where `wet` is 0. */
INLINE void put_crossing(const water *w, double *c, int lane, int wet, flow heat, flow vapour, flow liquid, double t0,
    double t1)
{
    const double mean = 0.5 * (t0 + t1), of = fused(w->vapour_heat, mean, w->vaporisation);
    const double carried = 0.5 * w->vapour_heat * vapour.v;
    const flow dry = {fused(vapour.v, of, heat.v), fused(vapour.t0, of, heat.t0 + carried),
        fused(vapour.x0, of, heat.x0), fused(vapour.t1, of, heat.t1 + carried), fused(vapour.x1, of, heat.x1)};
    put_flow(c, C_WATER, lane, wet ? both_flows(1.0, 0.0, liquid, vapour) : vapour);
    put_flow(c, C_ENERGY, lane, wet ? both_flows(w->liquid_heat * mean, 0.5 * w->liquid_heat, liquid, dry) : dry);
}

/* Liquid between two cells of a layer: logarithmic mean of the mobilities, exact where K is a power of the suction.
   */
INLINE flow liquid_within(const double *p0, const double *p1, double wets, int lane)
{
    const sloped l0 = sloped_at(p0, P_LOG_LIQUID, lane), l1 = sloped_at(p1, P_LOG_LIQUID, lane);
    const double k0 = AT(p0, P_MOBILITY), k1 = AT(p1, P_MOBILITY), way = AT(p0, P_WIDTH) + AT(p1, P_WIDTH);
    const double apart = AT(p0, P_LOG_MOBILITY) - AT(p1, P_LOG_MOBILITY), near = fabs(apart) < 1e-3 ? 1.0 : 0.0;
    const double safe = near > 0.0 ? 1.0 : apart, one = 1.0 / (safe * way), share = 2.0 * wets * one * safe;
    const double per = one * way, steep = (k0 - k1) * per, middle = 0.5 * (k0 + k1);
    const double mean = near > 0.0 ? middle : steep, steep0 = (k0 - steep) * per, steep1 = (steep - k1) * per;
    const double drop = l1.v - l0.v, g = share * mean, turn = share * drop;
    const double turn0 = turn * (near > 0.0 ? 0.5 * k0 : steep0), turn1 = turn * (near > 0.0 ? 0.5 * k1 : steep1);
    const double by0 = fused(turn0, AT(p0, P_MOBILITY_SLOPE), -g), by1 = fused(turn1, AT(p1, P_MOBILITY_SLOPE), g);
    return (flow){g * drop, by0 * l0.t, by0 * l0.x, by1 * l1.t, by1 * l1.x};
}

/* Liquid between two layers: both halves in series, through the share of the face that is open to liquid. */
INLINE flow liquid_across(const double *p0, const double *p1, double wets, int lane)
{
    const sloped l0 = sloped_at(p0, P_LOG_LIQUID, lane), l1 = sloped_at(p1, P_LOG_LIQUID, lane);
    const double w0 = AT(p0, P_WIDTH) / AT(p0, P_MOBILITY);
    const double w1 = AT(p1, P_WIDTH) / AT(p1, P_MOBILITY), whole = 2.0 / (w0 + w1);
    const double drop = l1.v - l0.v, g = wets * whole, turn = 0.5 * g * whole * drop;
    const double by0 = fused(turn * w0, AT(p0, P_MOBILITY_SLOPE), -g);
    const double by1 = fused(turn * w1, AT(p1, P_MOBILITY_SLOPE), g);
    return (flow){g * drop, by0 * l0.t, by0 * l0.x, by1 * l1.t, by1 * l1.x};
}

/* What stands between two layers, the first of them m0: resistances of heat and vapour, and how the latter changes
   with the humidity on either side. */
typedef struct { double contact, membrane, tighter; } joint;

INLINE joint joint_at(const double *m0, double humidity0, double humidity1, int lane)
{
    const double steep = AT(m0, B_STEEPNESS), mean = 0.5 * (humidity0 + humidity1);
    const double risen = AT(m0, B_RISE) * exponential(steep * mean), per = 1.0 / (AT(m0, B_BASE) + risen);
    const double membrane = AT(m0, B_MEMBRANE) * per;
    return (joint){AT(m0, B_CONTACT), membrane, -0.5 * membrane * steep * risen * per};
}

/* Share of a face that the liquid of layer m comes to and can't cross; the layer beyond it is `other`. */
INLINE double shut_at(const double *m, const double *other, double leaks, int lane)
{
    return AT(m, M_WETS) * fused(-AT(other, M_WETS), leaks, 1.0);
}

/* Resistance to vapour from the middle of a cell to a face of which `shut` stops liquid: what the pores bring there
   evaporates, so that liquid helps the vapour along. */
INLINE sloped path_to_face(const double *p, double shut, int lane)
{
    const sloped r = sloped_at(p, P_VAPOUR_PATH, lane), u = sloped_at(p, P_VAPOUR, lane);
    const sloped a = sloped_at(p, P_DRYNESS, lane), l = sloped_at(p, P_LOG_LIQUID, lane);
    const double one = 1.0 / (u.v * a.v), per_a = one * u.v, per_u = one * a.v, steep = AT(p, P_MOBILITY_SLOPE);
    const double helps = shut * r.v * (2.0 * AT(p, P_MOBILITY) / AT(p, P_WIDTH)) * one, less = 1.0 / (1.0 + helps);
    const double by = less * less, turn = -r.v * helps * by;
    const double by_t = fused(steep, l.t, -fused(u.t, per_u, a.t * per_a));
    const double by_x = fused(steep, l.x, -fused(u.x, per_u, a.x * per_a));
    return (sloped){r.v * less, fused(turn, by_t, by * r.t), fused(turn, by_x, by * r.x)};
}

/* A sloped number, and `by` times the slopes of another. */
INLINE sloped steeper(sloped s, double by, sloped other)
{
    return (sloped){s.v, fused(by, other.t, s.t), fused(by, other.x, s.x)};
}

/* Heat and vapour across a face, put together with the liquid; `across` where two layers meet, `wet` as above. */
INLINE void face_crossing(const water *w, const double *m0, const double *m1, int across, int wet, const double *p0,
    const double *p1, const double *liquid, double *c)
{
    EACH_LANE {
        const sloped none = {0.0, 0.0, 0.0}, h0 = across ? humidity_at(p0, lane) : none;
        const sloped h1 = across ? humidity_at(p1, lane) : none;
        const joint j = across ? joint_at(m0, h0.v, h1.v, lane) : (joint){0.0, 0.0, 0.0};
        const sloped q0 = sloped_at(p0, P_HEAT_PATH, lane), q1 = sloped_at(p1, P_HEAT_PATH, lane);
        const double leaks = AT(m0, B_LEAKS);
        const sloped r0 = across ? path_to_face(p0, shut_at(m0, m1, leaks, lane), lane)
            : sloped_at(p0, P_VAPOUR_PATH, lane);
        const sloped r1 = across ? path_to_face(p1, shut_at(m1, m0, leaks, lane), lane)
            : sloped_at(p1, P_VAPOUR_PATH, lane);
        const sloped v0 = steeper(r0, j.tighter, h0), v1 = steeper(r1, j.tighter, h1);
        const double r_q = q0.v + q1.v + j.contact, r_v = v0.v + v1.v + j.membrane, one = 1.0 / (r_q * r_v);
        const sloped t0 = {AT(p0, P_T), 1.0, 0.0}, t1 = {AT(p1, P_T), 1.0, 0.0};
        const flow heat = through(one * r_v, t0, t1, q0, q1);
        const flow vapour = through(one * r_q, sloped_at(p0, P_VAPOUR, lane), sloped_at(p1, P_VAPOUR, lane), v0, v1);
        put_crossing(w, c, lane, wet, heat, vapour, flow_at(liquid, 0, lane), t0.v, t1.v);
    }
}

/* Across the face between the cells with properties p0 and p1 of the layers m0 and m1, the same one or neighbours. */
INLINE void cell_crossing(const water *w, const double *m0, const double *m1, int64_t kind, const double *p0,
    const double *p1, double *c)
{
    ALIGNED double liquid[5 * LANES] = {0.0};

    if (m0 != m1) {
        if (kind & WETS)
            EACH_LANE put_flow(liquid, 0, lane, liquid_across(p0, p1, AT(m0, M_WETS) * AT(m1, M_WETS)
                * AT(m0, B_LEAKS), lane));
        face_crossing(w, m0, m1, 1, 1, p0, p1, liquid, c);
    } else if (kind & WETS) {
        EACH_LANE put_flow(liquid, 0, lane, liquid_within(p0, p1, AT(m0, M_WETS), lane));
        face_crossing(w, m0, m1, 0, 1, p0, p1, liquid, c);
    } else
        face_crossing(w, m0, m1, 0, 0, p0, p1, liquid, c);
}

/* Across an end of the wall, towards the room: the outer end, or (`inner`) the one towards the room. */
INLINE void end_crossing(const water *w, const double *m, int inner, const double *temperature,
    const double *pressure, const double *resistance, const double *p, double *c)
{
    EACH_LANE {
        const sloped t = {AT(p, P_T), 1.0, 0.0}, beyond = {temperature[lane], 0.0, 0.0};
        const sloped p_v = sloped_at(p, P_VAPOUR, lane), air = {pressure[lane], 0.0, 0.0};
        const sloped r_q = sloped_at(p, P_HEAT_PATH, lane), r_v = path_to_face(p, AT(m, M_WETS), lane);
        const sloped none = {0.0, 0.0, 0.0};
        const flow nothing = {0.0, 0.0, 0.0, 0.0, 0.0};
        const double g_q = 1.0 / (r_q.v + resistance[lane]), g_v = 1.0 / (r_v.v + resistance[LANES + lane]);
        const flow heat = inner ? through(g_q, t, beyond, r_q, none) : through(g_q, beyond, t, none, r_q);
        const flow vapour = inner ? through(g_v, p_v, air, r_v, none) : through(g_v, air, p_v, none, r_v);
        put_crossing(w, c, lane, 0, heat, vapour, nothing, inner ? t.v : beyond.v, inner ? beyond.v : t.v);
    }
}

#endif

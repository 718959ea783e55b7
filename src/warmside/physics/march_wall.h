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

/* What some lane of a layer needs; what none needs is left out, and would have changed no bit. */
enum kind { WETS = 1, FILLS = 2, BENDS = 4, RISES = 8 };

/* Functions of water, the same for all lanes; water.py says what each is. */
typedef struct {
    double pole, saturation[6], melting, freezing[3], rounding, diffusion[4], diffusion_at;
    double gas, density, vaporisation, vapour_heat, liquid_heat, ice_heat, fusion, free_per_unit, dry_air, pressure;
} water;

/* A number with its slopes to t and x of its own cell. */
typedef struct { double v, t, x; } sloped;

enum property {
    P_T, P_VAPOUR, P_VAPOUR_PATH = P_VAPOUR + 3, P_HEAT_PATH = P_VAPOUR_PATH + 3, P_LOG_LIQUID = P_HEAT_PATH + 3,
        P_HUMIDITY = P_LOG_LIQUID + 3, P_MOBILITY = P_HUMIDITY + 3, P_LOG_MOBILITY, P_MOBILITY_SLOPE, P_WIDTH,
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
INLINE double frozen_share(double q) { return q * q * (3.0 - q) * 0.25; }

/* ln of the saturation pressure over liquid water; `per` is 1 / (pole + t). */
INLINE sloped log_saturation(const water *w, double t, double per)
{
    const double *c = w->saturation;
    const double value = c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))));
    const double slope = c[1] + t * (2.0 * c[2] + t * (3.0 * c[3] + t * (4.0 * c[4] + t * (5.0 * c[5]))));
    return (sloped){value * per, (slope - value * per) * per, 0.0};
}

/* Suction at which pore water freezes and its slope to t. */
INLINE sloped freezing_suction(const water *w, double t)
{
    const double at = t - w->melting, *c = w->freezing;
    return (sloped){at * (c[0] + at * (c[1] + at * c[2])), c[0] + at * (2.0 * c[1] + at * (3.0 * c[2])), 0.0};
}

/* Enthalpy of free water and its slope to t; it freezes as pore water at no suction does. */
INLINE sloped film_enthalpy(const water *w, double t)
{
    const double per = 1.0 / w->rounding, less = w->liquid_heat - w->ice_heat, melt = less * t + w->fusion;
    const sloped f = freezing_suction(w, t);
    const double q = within(-1.0, f.v * per, 1.0) + 1.0, part = frozen_share(q),
        part_t = q * (6.0 - 3.0 * q) * 0.25 * f.t * per;
    return (sloped){w->liquid_heat * t - part * melt, w->liquid_heat - part * less - part_t * melt, 0.0};
}

/* Degree of saturation at ln of a suction: its ln, itself, and the slope of its ln to that ln. */
typedef struct { double log, share, slope; } filled;

INLINE filled filling(const double *m, int lane, double log_suction)
{
    const double n = AT(m, M_EXPONENT), power = AT(m, M_POWER);
    const double grown = exponential(n * (AT(m, M_LOG_SCALE) + log_suction));
    const double log = -power * logarithm(1.0 + grown);
    return (filled){log, exponential(log), -power * n * (grown / (1.0 + grown))};
}

/* How much nearer Newton's method must come where water is about to freeze or thaw. */
static const double CARE = 20.0;

/* Suction at which water stands free on a cell, with its slope to t. Pores that conduct no liquid hold no ice
   either: on them frost stands, at the suction where ice does. */
INLINE sloped free_suction(const water *w, const double *m, int lane, double t)
{
    const double p = AT(m, M_FREE_SUCTION), moves = 1.0 - AT(m, M_WETS), per = 1.0 / w->rounding;
    const sloped f = freezing_suction(w, t);
    const double above = (f.v - p) * per, q = within(-1.0, above, 1.0) + 1.0, over = above - 1.0;
    const double beyond = 0.5 * (over + fabs(over)), more = q * q * q * (4.0 - q) * 0.0625 + beyond;
    return (sloped){p + moves * (w->rounding * more), moves * (frozen_share(q) * f.t), 0.0};
}

/* Water of a cell: slope of ln of the suction of the total to t (`whole_t`); ln of the liquid's and its slopes;
   degrees of saturation of both and the slopes of their ln to these; and the free edge. */
typedef struct {
    double dry[LANES], edge[LANES], whole_t[LANES], total[LANES], total_slope[LANES];
    double log[LANES], t[LANES], x[LANES], suction[LANES], share[LANES], log_share[LANES], slope[LANES];
    double care[LANES];
} liquids;

/* The free edge and the suction of the total water: the potential counts ln of the suction from the edge up. Says
   whether some lane holds free water. */
INLINE int cell_edge(const water *w, const double *m, const double *y, liquids *l)
{
    int cold = 0, standing = 0;

    EACH_LANE l->edge[lane] = AT(m, M_FREE), l->whole_t[lane] = 0.0;
    for (int lane = 0; lane < LANES; lane++) {
        cold |= y[lane] < w->melting + 0.1;
        standing |= y[LANES + lane] <= AT(m, M_FREE);
    }
    if (cold)
        EACH_LANE {
            const sloped free = free_suction(w, m, lane, y[lane]);
            const double log = logarithm(free.v), plain = AT(m, M_FREE), slope = free.t / free.v;
            l->edge[lane] = free.t < 0.0 ? log : plain;
            l->whole_t[lane] = free.t < 0.0 ? slope : 0.0;
        }
    EACH_LANE {
        const double x = y[LANES + lane], plain = AT(m, M_FREE), up = larger(x, plain);
        const double raised = l->edge[lane] - plain, log = up + raised;
        l->dry[lane] = x > plain ? 1.0 : 0.0;
        l->log[lane] = log;
        l->suction[lane] = exponential(log);
    }
    return standing;
}

/* Says whether some lane holds free water. */
INLINE int cell_water(const water *w, const double *m, int64_t kind, const double *y, liquids *l)
{
    double above[LANES], slope[LANES];
    const double per = 1.0 / w->rounding;
    const int standing = cell_edge(w, m, y, l);
    int freezing = 0;

    EACH_LANE {
        const filled s = filling(m, lane, l->log[lane]);
        l->t[lane] = l->whole_t[lane];
        l->x[lane] = l->dry[lane];
        l->total[lane] = l->share[lane] = s.share;
        l->total_slope[lane] = l->slope[lane] = s.slope;
        l->log_share[lane] = s.log;
        l->care[lane] = 1.0;
    }
    if (standing)
        EACH_LANE {
            const double near = fabs(freezing_suction(w, y[lane]).v * per) < 4.0 ? CARE : 1.0;
            l->care[lane] = l->dry[lane] > 0.0 ? 1.0 : near;
        }
    if (!(kind & WETS))
        return standing;
    EACH_LANE {
        const sloped f = freezing_suction(w, y[lane]);
        const double distance = (f.v - l->suction[lane]) * per, wets = AT(m, M_WETS);
        slope[lane] = f.t;
        const double near = fabs(distance) < 4.0 ? CARE : 1.0, old = l->care[lane];
        above[lane] = wets > 0.0 ? distance : -2.0;
        l->care[lane] = wets > 0.0 ? larger(near, old) : old;
    }
    for (int lane = 0; lane < LANES; lane++)
        freezing |= above[lane] > -1.0;
    if (freezing) {
        EACH_LANE {
            const double q = within(-1.0, above[lane], 1.0) + 1.0, part = frozen_share(q), old = l->suction[lane];
            const double over = above[lane] - 1.0, beyond = 0.5 * (over + fabs(over));
            const double p = old + w->rounding * (q * q * q * (4.0 - q) * 0.0625 + beyond);
            const double log_p = logarithm(p), per_p = 1.0 / p, by_t = part * slope[lane] * per_p;
            const double by_x = (1.0 - part) * old * l->dry[lane] * per_p, plain = l->log[lane],
                plain_t = l->t[lane];
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
    return standing;
}

/* Humidity and vapour pressure. */
INLINE void cell_vapour(const water *w, const double *y, const liquids *l, double *p)
{
    const double per_gas = 1.0 / (w->density * w->gas);
    EACH_LANE {
        const double t = y[lane], kelvin = t + 273.15, both = 1.0 / (kelvin * (w->pole + t)),
            per_kelvin = both * (w->pole + t);
        const double a = l->suction[lane] * per_kelvin * per_gas, phi = exponential(-a);
        const sloped humidity = {phi, -phi * a * (l->t[lane] - per_kelvin), -phi * a * l->x[lane]};
        const sloped saturation = log_saturation(w, t, both * kelvin);
        const double p_sat = exponential(saturation.v), vapour = p_sat * phi;
        AT(p, P_T) = t;
        put_sloped(p, P_HUMIDITY, lane, humidity);
        put_sloped(p, P_VAPOUR, lane, (sloped){vapour, vapour * saturation.t + p_sat * humidity.t,
            p_sat * humidity.x});
        put_sloped(p, P_LOG_LIQUID, lane, (sloped){l->log[lane], l->t[lane], l->x[lane]});
    }
}

/* Permeability relative to still air, with its slopes to the humidity and to ln of the suction. */
INLINE void cell_permeability(const double *m, int64_t kind, const liquids *l, const double *p, double *relative,
    double *by_phi, double *by_log)
{
    EACH_LANE relative[lane] = AT(m, M_VAPOUR_BASE), by_phi[lane] = 0.0, by_log[lane] = 0.0;
    if (kind & RISES)
        EACH_LANE {
            const double steep = AT(m, M_VAPOUR_STEEPNESS);
            const double risen = AT(m, M_VAPOUR_RISE) * exponential(steep * AT(p, P_HUMIDITY));
            relative[lane] += risen;
            by_phi[lane] = risen * steep;
        }
    if (kind & FILLS)
        EACH_LANE {
            const double full = AT(m, M_FILLING), open = 1.0 - full * l->share[lane];
            const double under = 1.0 / (0.503 * open * open + 0.497),
                by = (0.497 - 0.503 * open * open) * under * under;
            by_log[lane] = -relative[lane] * by * full * l->share[lane] * l->slope[lane];
            relative[lane] *= open * under;
            by_phi[lane] *= open * under;
        }
}

/* Resistances of heat and vapour from the middle of the cell to its faces. */
INLINE void cell_paths(const water *w, const double *m, int64_t kind, const double *width, const liquids *l,
    double *p)
{
    const double per_warm = 1.0 / w->diffusion_at, *d = w->diffusion;
    double relative[LANES], by_phi[LANES], by_log[LANES], bent[LANES];

    cell_permeability(m, kind, l, p, relative, by_phi, by_log);
    EACH_LANE bent[lane] = 1.0;
    if (kind & BENDS)
        EACH_LANE bent[lane] = 1.0 / (1.0 + AT(m, M_BEND) * AT(m, M_SATURATED) * l->total[lane]);
    EACH_LANE {
        const double t = AT(p, P_T), warm = (t + 273.15) * per_warm - 1.0;
        const double air = d[0] * (1.0 + warm * (d[1] + warm * (d[2] + warm * d[3])));
        const double air_t = d[0] * per_warm * (d[1] + warm * (2.0 * d[2] + warm * (3.0 * d[3])));
        const double content = AT(m, M_SATURATED) * l->total[lane], risen = content * l->total_slope[lane];
        const double lambda_t = AT(m, M_PER_KELVIN), wet = AT(m, M_PER_WATER) * bent[lane];
        const double lambda = AT(m, M_DRY) + lambda_t * (t - 10.0) + wet * content, delta = air * relative[lane];
        const double one = 1.0 / (lambda * delta), half = 0.5 * width[lane], r_q = half * (one * delta),
            r_v = half * (one * lambda);
        const double wetter = wet * bent[lane] * risen, by_q = -r_q * (one * delta), by_v = -r_v * (one * lambda);
        const sloped humidity = sloped_at(p, P_HUMIDITY, lane);
        const double delta_t = air_t * relative[lane]
            + air * (by_phi[lane] * humidity.t + by_log[lane] * l->t[lane]);
        const double delta_x = air * (by_phi[lane] * humidity.x + by_log[lane] * l->x[lane]);
        AT(p, P_WIDTH) = width[lane];
        put_sloped(p, P_VAPOUR_PATH, lane, (sloped){r_v, by_v * delta_t, by_v * delta_x});
        put_sloped(p, P_HEAT_PATH, lane, (sloped){r_q, by_q * (lambda_t + wetter * l->whole_t[lane]),
            by_q * (wetter * l->dry[lane])});
    }
}

/* Liquid conductivity times suction, its ln, and the slope of that ln to ln of the suction. */
INLINE void cell_mobility(const double *m, const liquids *l, double *p)
{
    EACH_LANE {
        const double s = l->share[lane], power = AT(m, M_LIQUID_EXPONENT), *k = m + M_LIQUID_0 * LANES + lane;
        const double k1 = k[LANES], k2 = k[2 * LANES], k3 = k[3 * LANES], k4 = k[4 * LANES], k5 = k[5 * LANES];
        const double log_k = k[0] + s * (k1 + s * (k2 + s * (k3 + s * (k4 + s * k5)))) + power * l->log_share[lane];
        const double by_s = s * (k1 + s * (2.0 * k2 + s * (3.0 * k3 + s * (4.0 * k4 + s * (5.0 * k5))))) + power;
        AT(p, P_MOBILITY) = exponential(log_k + l->log[lane]);
        AT(p, P_LOG_MOBILITY) = log_k + l->log[lane];
        AT(p, P_MOBILITY_SLOPE) = by_s * l->slope[lane] + 1.0;
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
        const double w_l_l = w_l * l->slope[lane], melt = less * t + w->fusion, ice = w->ice_heat * t - w->fusion;
        const double heat = AT(m, M_CAPACITY) + w->liquid_heat * w_l + w->ice_heat * w_i;
        AT(p, P_MARGIN) = y[LANES + lane] - AT(m, M_FREE);
        AT(p, P_CARE) = l->care[lane];
        put_sloped(p, P_WATER, lane, (sloped){dx * content, dx * content_t, dx * content_x});
        put_sloped(p, P_ENERGY, lane, (sloped){dx * (heat * t - w->fusion * w_i),
            dx * (heat + melt * w_l_l * l->t[lane] + ice * content_t),
            dx * (ice * content_x + melt * w_l_l * l->x[lane])});
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
        put_sloped(p, P_ENERGY, lane, (sloped){energy.v + free * film.v, energy.t + free * film.t,
            energy.x - per_unit * film.v});
    }
}

/* All properties of one cell of a layer, into p[PROPERTY][LANES]; y is [2][LANES]. */
INLINE void cell_properties(const water *w, const double *m, int64_t kind, const double *width, const double *y,
    double *p)
{
    liquids l;

    const int standing = cell_water(w, m, kind, y, &l);
    cell_vapour(w, y, &l, p);
    cell_store(w, m, width, y, &l, p);
    cell_paths(w, m, kind, width, &l, p);
    if (kind & WETS)
        cell_mobility(m, &l, p);
    if (standing)
        cell_film(w, m, y, &l, p);
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

/* A conductance 1 / (r0 + r1 + more) times the difference of two potentials. */
INLINE flow through(sloped u0, sloped u1, sloped r0, sloped r1, double more)
{
    const double g = 1.0 / (r0.v + r1.v + more), v = g * (u0.v - u1.v), by = -g * v;
    return (flow){v, g * u0.t + by * r0.t, g * u0.x + by * r0.x, by * r1.t - g * u1.t, by * r1.x - g * u1.x};
}

/* Heat, vapour and liquid put together. */
INLINE void put_crossing(const water *w, double *c, int lane, flow heat, flow vapour, flow liquid, double t0,
    double t1)
{
    const double mean = 0.5 * (t0 + t1), of_vapour = w->vaporisation + w->vapour_heat * mean,
        of_liquid = w->liquid_heat * mean;
    const double carried = 0.5 * (w->vapour_heat * vapour.v + w->liquid_heat * liquid.v);
    put_flow(c, C_WATER, lane, (flow){vapour.v + liquid.v, vapour.t0 + liquid.t0, vapour.x0 + liquid.x0,
        vapour.t1 + liquid.t1, vapour.x1 + liquid.x1});
    put_flow(c, C_ENERGY, lane, (flow){heat.v + vapour.v * of_vapour + liquid.v * of_liquid,
        heat.t0 + vapour.t0 * of_vapour + liquid.t0 * of_liquid + carried,
        heat.x0 + vapour.x0 * of_vapour + liquid.x0 * of_liquid,
        heat.t1 + vapour.t1 * of_vapour + liquid.t1 * of_liquid + carried,
        heat.x1 + vapour.x1 * of_vapour + liquid.x1 * of_liquid});
}

/* Liquid between two cells of a layer: logarithmic mean of the mobilities, exact where K is a power of the suction. */
INLINE flow liquid_within(const double *p0, const double *p1, double wets, int lane)
{
    const sloped l0 = sloped_at(p0, P_LOG_LIQUID, lane), l1 = sloped_at(p1, P_LOG_LIQUID, lane);
    const double k0 = AT(p0, P_MOBILITY), k1 = AT(p1, P_MOBILITY);
    const double apart = AT(p0, P_LOG_MOBILITY) - AT(p1, P_LOG_MOBILITY), near = fabs(apart) < 1e-3 ? 1.0 : 0.0;
    const double one = 1.0 / ((near > 0.0 ? 1.0 : apart) * (AT(p0, P_WIDTH) + AT(p1, P_WIDTH)));
    const double share = 2.0 * wets * one * (near > 0.0 ? 1.0 : apart),
        per = one * (AT(p0, P_WIDTH) + AT(p1, P_WIDTH));
    const double steep = (k0 - k1) * per, middle = 0.5 * (k0 + k1), mean = near > 0.0 ? middle : steep;
    const double steep0 = (k0 - steep) * per, steep1 = (steep - k1) * per, drop = l1.v - l0.v, g = share * mean;
    const double by0 = share * (near > 0.0 ? 0.5 * k0 : steep0) * drop * AT(p0, P_MOBILITY_SLOPE) - g;
    const double by1 = share * (near > 0.0 ? 0.5 * k1 : steep1) * drop * AT(p1, P_MOBILITY_SLOPE) + g;
    return (flow){g * drop, by0 * l0.t, by0 * l0.x, by1 * l1.t, by1 * l1.x};
}

/* Liquid between two layers: both halves in series, through the share of the face that is open to liquid. */
INLINE flow liquid_across(const double *p0, const double *p1, double wets, int lane)
{
    const sloped l0 = sloped_at(p0, P_LOG_LIQUID, lane), l1 = sloped_at(p1, P_LOG_LIQUID, lane);
    const double w0 = AT(p0, P_WIDTH) / AT(p0, P_MOBILITY);
    const double w1 = AT(p1, P_WIDTH) / AT(p1, P_MOBILITY), whole = 2.0 / (w0 + w1);
    const double drop = l1.v - l0.v, g = wets * whole, turn = 0.5 * g * whole * drop;
    const double by0 = turn * w0 * AT(p0, P_MOBILITY_SLOPE) - g, by1 = turn * w1 * AT(p1, P_MOBILITY_SLOPE) + g;
    return (flow){g * drop, by0 * l0.t, by0 * l0.x, by1 * l1.t, by1 * l1.x};
}

/* Across the face between the cells with properties p0 and p1 of the layers m0 and m1, the same one or neighbours. */
INLINE void cell_crossing(const water *w, const double *m0, const double *m1, int64_t kind, const double *p0,
    const double *p1, double *c)
{
    double contact[LANES] = {0.0}, membrane[LANES] = {0.0}, tighter[LANES] = {0.0}, liquid[5 * LANES] = {0.0};
    const int across = m0 != m1;

    if (across)
        EACH_LANE {
            const double steep = AT(m0, B_STEEPNESS), mean = 0.5 * (AT(p0, P_HUMIDITY) + AT(p1, P_HUMIDITY));
            const double risen = AT(m0, B_RISE) * exponential(steep * mean), per = 1.0 / (AT(m0, B_BASE) + risen);
            contact[lane] = AT(m0, B_CONTACT);
            membrane[lane] = AT(m0, B_MEMBRANE) * per;
            tighter[lane] = -0.5 * membrane[lane] * steep * risen * per;
        }
    if (kind & WETS && across)
        EACH_LANE put_flow(liquid, 0, lane, liquid_across(p0, p1, AT(m0, M_WETS) * AT(m1, M_WETS) * AT(m0, B_LEAKS),
            lane));
    else if (kind & WETS)
        EACH_LANE put_flow(liquid, 0, lane, liquid_within(p0, p1, AT(m0, M_WETS), lane));
    EACH_LANE {
        const sloped t0 = {AT(p0, P_T), 1.0, 0.0}, t1 = {AT(p1, P_T), 1.0, 0.0};
        const sloped h0 = sloped_at(p0, P_HUMIDITY, lane), h1 = sloped_at(p1, P_HUMIDITY, lane);
        const sloped r0 = sloped_at(p0, P_VAPOUR_PATH, lane), r1 = sloped_at(p1, P_VAPOUR_PATH, lane);
        const sloped v0 = {r0.v, r0.t + tighter[lane] * h0.t, r0.x + tighter[lane] * h0.x};
        const sloped v1 = {r1.v, r1.t + tighter[lane] * h1.t, r1.x + tighter[lane] * h1.x};
        const flow heat = through(t0, t1, sloped_at(p0, P_HEAT_PATH, lane), sloped_at(p1, P_HEAT_PATH, lane),
            contact[lane]);
        const flow vapour = through(sloped_at(p0, P_VAPOUR, lane), sloped_at(p1, P_VAPOUR, lane), v0, v1,
            membrane[lane]);
        put_crossing(w, c, lane, heat, vapour, flow_at(liquid, 0, lane), t0.v, t1.v);
    }
}

/* Across an end of the wall, towards the room: the outer end, or (`inner`) the one towards the room. */
INLINE void end_crossing(const water *w, int inner, const double *temperature, const double *pressure,
    const double *resistance, const double *p, double *c)
{
    EACH_LANE {
        const sloped t = {AT(p, P_T), 1.0, 0.0}, beyond = {temperature[lane], 0.0, 0.0};
        const sloped p_v = sloped_at(p, P_VAPOUR, lane), air = {pressure[lane], 0.0, 0.0};
        const sloped r_q = sloped_at(p, P_HEAT_PATH, lane), r_v = sloped_at(p, P_VAPOUR_PATH, lane);
        const sloped none = {0.0, 0.0, 0.0};
        const flow nothing = {0.0, 0.0, 0.0, 0.0, 0.0};
        const double r_film = resistance[lane], z_film = resistance[LANES + lane];
        const flow heat = inner ? through(t, beyond, r_q, none, r_film) : through(beyond, t, none, r_q, r_film);
        const flow vapour = inner ? through(p_v, air, r_v, none, z_film) : through(air, p_v, none, r_v, z_film);
        put_crossing(w, c, lane, heat, vapour, nothing, inner ? t.v : beyond.v, inner ? beyond.v : t.v);
    }
}

#endif

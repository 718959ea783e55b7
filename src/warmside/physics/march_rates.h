/* Rates of change of one group of walls, for integrators that choose their own steps.

   The same cells, flows and sources as march_step.h builds its systems from, without a step: what reaches each cell,
   through the slopes of what it stores, as changes of its two unknowns. Free water beyond the film limit runs down
   within a given time here, as in transport.py; march_step.h lets it run at the end of each step. */

#ifndef MARCH_RATES_H
#define MARCH_RATES_H

#include "march_step.h"

/* Changes of t [K/s] and x [1/s] of one cell with properties p, from the crossings of its two faces and its sources.
   */
INLINE void cell_rates(const walls *v, int64_t cell, const double *y, const double *p, const double *outer,
    const double *inner, const double *q, double per_run_off, double *out)
{
    const double *limit = v->special + (SPECIAL * cell + S_FILM_LIMIT) * LANES;
    EACH_LANE {
        const sloped water_ = sloped_at(p, P_WATER, lane), energy = sloped_at(p, P_ENERGY, lane);
        const double held = standing_water(v, cell, p + P_MARGIN * LANES, y, lane);
        const double runs = larger(held - limit[lane], 0.0) * per_run_off;
        const double wet = AT(outer, C_WATER) - AT(inner, C_WATER) + AT(q, Q_AIR) + AT(q, Q_WETTING) - runs;
        const double warm = AT(outer, C_ENERGY) - AT(inner, C_ENERGY) + AT(q, Q_ENERGY)
            - runs * film_enthalpy(&v->w, y[lane]).v;
        const block stored = {energy.t, energy.x, water_.t, water_.x};
        put_pair(out, lane, applied(inverse(stored, determinant_of(stored)), (pair){warm, wet}));
    }
}

/* Rates of all cells at unknowns y[cells][2][LANES] and a time counted in hours, into out[cells][2][LANES]. */
INLINE void rates(const walls *v, double time, const double *y, double per_run_off, double *out)
{
    ALIGNED double two[2][PROPERTY * LANES], faces[2][CROSSING * LANES], sources[SOURCE * LANES], at[SERIES * LANES];
    ALIGNED double part[LANES], lift[PAIR];
    const water w = v->w;
    const int64_t n = v->cells, whole = (int64_t)time, hour = whole < v->hours ? whole : v->hours - 1;

    EACH_LANE part[lane] = time - (double)hour;
    int64_t hours[LANES];
    EACH_LANE hours[lane] = hour;
    boundary(v, hours, part, at);
    for (int64_t cell = 0; cell <= n; cell++) {
        /* p: this cell, q: the one before; inner: the face between them, outer: the face beyond q. */
        double *p = two[cell & 1], *q = two[1 - (cell & 1)], *outer = faces[cell & 1],
            *inner = faces[1 - (cell & 1)];
        if (cell < n) {
            const double coldest = least_of(y + PAIR * cell);
            lift_at(v, &w, cell, coldest, y + PAIR * cell, lift);
            properties(v, &w, cell, 1, &coldest, y + PAIR * cell, lift, &p);
        }
        if (cell == 0) {
            end_crossing(&w, layer_at(v, 0), 0, at + F_OUTER * LANES, at + F_OUTDOOR_VAPOUR * LANES, v->ends, p,
                inner);
            continue;
        }
        if (cell < n)
            cell_crossing(&w, layer_at(v, cell - 1), layer_at(v, cell),
                v->kind[v->layer_of[cell - 1]] & v->kind[v->layer_of[cell]], q, p, inner);
        else
            end_crossing(&w, layer_at(v, n - 1), 1, at + F_ROOM * LANES, at + F_ROOM_VAPOUR * LANES,
                v->ends + E_INNER_HEAT * LANES, q, inner);
        cell_sources(&w, v->special + SPECIAL * LANES * (cell - 1), layer_at(v, cell - 1) + M_FREE * LANES, at,
            y + PAIR * (cell - 1), q, sources);
        cell_rates(v, cell - 1, y + PAIR * (cell - 1), q, outer, inner, sources, per_run_off,
            out + PAIR * (cell - 1));
    }
}

/* One copy per vector width, as in march.c. */
#define RATES(width, TARGET)                                                                                         \
    TARGET static void rates_##width(const walls *v, double time, const double *y, double per_run_off, double *out)  \
    {                                                                                                                \
        rates(v, time, y, per_run_off, out);                                                                         \
    }

RATES(128, )
#ifdef WIDE
RATES(256, WIDE)
RATES(512, WIDEST)
#else
#define rates_256 rates_128
#define rates_512 rates_128
#endif

/* Rates of one group at unknowns y; arrays as in march_step.h, of which the outputs are not touched. `width` is at
   most march_widest() and changes no bit of the answer. */
PUBLIC void march_rates(int64_t width, const walls *v, double time, const double *y, double per_run_off, double *out)
{
    if (width >= 512)
        rates_512(v, time, y, per_run_off, out);
    else if (width >= 256)
        rates_256(v, time, y, per_run_off, out);
    else
        rates_128(v, time, y, per_run_off, out);
}

#endif

/* The whole run of one group: its start, its hours, what is reported at the end of each, and who tries again. */

#ifndef MARCH_RUN_H
#define MARCH_RUN_H

#include "march_step.h"

/* Temperature and humidity at one face of a cell with properties p, of which `shut` stops liquid: what flows from it
   towards `t`, `pressure` beyond the resistances r_q, r_v is taken back over the half cell. */
INLINE void face_value(const water *w, const double *p, const double *shut, const double *t, const double *pressure,
    const double *r_q, const double *r_v, double *out)
{
    EACH_LANE {
        const double t0 = AT(p, P_T), p0 = AT(p, P_VAPOUR);
        const double half_q = AT(p, P_HEAT_PATH), half_v = path_to_face(p, shut[lane], lane).v;
        const double t_face = fused((t[lane] - t0) / (half_q + r_q[lane]), half_q, t0);
        const double p_face = fused((pressure[lane] - p0) / (half_v + r_v[lane]), half_v, p0);
        out[lane] = t_face;
        out[LANES + lane] = p_face * exponential(-log_saturation(w, t_face, 1.0 / (w->pole + t_face)).v);
    }
}

/* Properties of a cell at the end of the hour, kept in one of two places; `beside` is the cell not to be
   overwritten. */
INLINE const double *looked_up(const engine *e, const walls *v, const room *r, int64_t cell, int64_t beside,
    int64_t *have, double (*two)[PROPERTY * LANES])
{
    const int known = have[0] == cell ? 0 : have[1] == cell ? 1 : -1,
        place = known >= 0 ? known : have[0] == beside ? 1 : 0;
    if (known < 0) {
        double *const p[1] = {two[place]};
        e->properties(v, cell, 1, r->start + PAIR * cell, r->lifted + PAIR * cell, p);
        have[place] = cell;
    }
    return two[place];
}

/* Temperature and humidity at the faces asked for, and water by layer, at the end of an hour. */
INLINE void report(const engine *e, const walls *v, const room *r, int64_t hour)
{
    ALIGNED double two[2][PROPERTY * LANES], r_q[LANES], r_v[LANES], shut[LANES];
    int64_t have[2] = {-1, -1};
    const double *at = v->series + SERIES * LANES * (hour + 1);

    for (int64_t probe = 0; probe < v->probes; probe++) {
        const int64_t cell = v->probe_cell[probe], inward = v->probe_inward[probe],
            other = inward ? cell + 1 : cell - 1;
        double *out = v->faces + 2 * LANES * (v->probes * hour + probe);
        const double *p = looked_up(e, v, r, cell, other, have, two), *m = layer_at(v, cell), *q = NULL;
        if (other < 0)
            face_value(&v->w, p, m + M_WETS * LANES, at + F_OUTER * LANES, at + F_OUTDOOR_VAPOUR * LANES, v->ends,
                v->ends + LANES, out);
        else if (other == v->cells)
            face_value(&v->w, p, m + M_WETS * LANES, at + F_ROOM * LANES, at + F_ROOM_VAPOUR * LANES,
                v->ends + E_INNER_HEAT * LANES, v->ends + E_INNER_VAPOUR * LANES, out);
        else {
            const double across = v->layer_of[cell] == v->layer_of[other] ? 0.0 : 1.0;
            const double *n = layer_at(v, other), *b = inward ? m : n;
            q = looked_up(e, v, r, other, cell, have, two);
            EACH_LANE {
                const joint j = joint_at(b, humidity_at(p, lane).v, humidity_at(q, lane).v, lane);
                r_q[lane] = fused(across, j.contact, AT(q, P_HEAT_PATH));
                const double leaks = AT(b, B_LEAKS), beyond = across * shut_at(n, m, leaks, lane);
                shut[lane] = across * shut_at(m, n, leaks, lane);
                r_v[lane] = fused(across, j.membrane, path_to_face(q, beyond, lane).v);
            }
            face_value(&v->w, p, shut, q + P_T * LANES, q + P_VAPOUR * LANES, r_q, r_v, out);
        }
    }
    double *water_ = v->layer_water + v->layers * LANES * hour, *free = v->layer_free + v->layers * LANES * hour;
    for (int64_t row = 0; row < v->layers; row++)
        EACH_LANE AT(water_, row) = AT(free, row) = 0.0;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const int64_t layer = v->layer_of[cell];
        double held[LANES] = {0.0};
        if (may_stand(r, cell))
            standing_water(v, cell, r->start + PAIR * cell, held);
        EACH_LANE AT(water_, layer) += r->conserved[2 * cell * LANES + lane], AT(free, layer) += held[lane];
    }
}

/* Books what the cells hold: with `sign` -1 at the start and 1 at the end, what they have gained. At the end also
   how far that is from the material functions. */
INLINE void take_stock(const engine *e, const walls *v, const room *r, double sign)
{
    ALIGNED double p[PROPERTY * LANES];
    double *const only[1] = {p}, *ledger = v->ledger;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *c = r->conserved + PAIR * cell;
        e->properties(v, cell, 1, r->start + PAIR * cell, r->lifted + PAIR * cell, only);
        EACH_LANE {
            AT(ledger, L_WATER_GAINED) += sign * c[lane];
            AT(ledger, L_ENERGY_GAINED) += sign * c[LANES + lane];
            AT(ledger, L_WATER_AMISS) += fabs(c[lane] - AT(p, P_WATER));
            AT(ledger, L_ENERGY_AMISS) += fabs(c[LANES + lane] - AT(p, P_ENERGY));
        }
    }
}

/* Flows at the very start, from a linear system over a millisecond: what moves in it is the flow, and nothing else. */
INLINE void first_flow(const engine *e, const walls *v, const room *r)
{
    ALIGNED double at[SERIES * LANES], span[LANES], zero[LANES], one[LANES], first[CROSSING * LANES],
        last[CROSSING * LANES];

    EACH_LANE span[lane] = 1e-3, zero[lane] = 0.0, one[lane] = 1.0;
    boundary(v, 0, zero, at);
    e->newton(v, r, at, span, first, last);
    for (int row = 0; row < LEDGER_FLOWS; row++)
        EACH_LANE AT(r->booked, row) = 0.0;
    book(v, r, one, first, last, r->booked);
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *kept = r->kept + KEPT * LANES * cell, *d = r->correction + PAIR * cell;
        double *rate = r->rate + PAIR * cell;
        EACH_LANE {
            const sloped water_ = sloped_at(kept, K_WATER, lane), energy = sloped_at(kept, K_ENERGY, lane);
            AT(rate, 0) = (water_.t * d[lane] + water_.x * d[LANES + lane]) * 1e3;
            AT(rate, 1) = (energy.t * d[lane] + energy.x * d[LANES + lane]) * 1e3;
            AT(r->margin, cell) = AT(kept, K_MARGIN);
        }
    }
}

/* Takes over the start: unknowns from `state`, contents from the material functions. */
INLINE void begin(const engine *e, const walls *v, const room *r)
{
    ALIGNED double p[PROPERTY * LANES];
    double *const only[1] = {p};
    for (int64_t cell = 0; cell < v->cells; cell++) {
        double *start = r->start + PAIR * cell, *state = v->state + PAIR * cell;
        double *lifted = r->lifted + PAIR * cell;
        lift_at(v, &v->w, cell, state, lifted);
        e->properties(v, cell, 1, state, lifted, only);
        EACH_LANE {
            put_pair(start, lane, pair_at(state, lane));
            put_pair(r->lift + PAIR * cell, lane, pair_at(lifted, lane));
            put_pair(r->conserved + PAIR * cell, lane, (pair){AT(p, P_WATER), AT(p, P_ENERGY)});
            put_pair(r->slope + PAIR * cell, lane, (pair){0.0, 0.0});
            put_pair(r->base + PAIR * cell, lane, (pair){AT(p, P_WATER), AT(p, P_ENERGY)});
            put_pair(r->now + PAIR * cell, lane, pair_at(state, lane));
        }
    }
    take_stock(e, v, r, -1.0);
    first_flow(e, v, r);
}

/* After a step: who moves on, who tries half of it, who gives up. Steps grow again where they fit the hour. */
INLINE void regulate(const walls *v, const room *r, int64_t hour, const double *failed, const double *where,
    double *busy, double *part, double *step, double *dead)
{
    const double least = of_bits((uint64_t)(1023 - v->halvings) << 52);
    for (int lane = 0; lane < LANES; lane++) {
        if (!(busy[lane] > 0.0))
            continue;
        if (failed[lane] > 0.0) {
            step[lane] *= 0.5;
            if (step[lane] < least) {
                const int64_t cell = (int64_t)where[lane];
                const double rows[FAULT] = {(double)hour, where[lane], r->start[2 * cell * LANES + lane],
                    r->start[(2 * cell + 1) * LANES + lane]};
                for (int row = 0; row < FAULT; row++)
                    AT(v->fault, row) = rows[row];
                dead[lane] = 1.0;
                busy[lane] = 0.0;
            }
            continue;
        }
        part[lane] += step[lane];
        busy[lane] = part[lane] < 1.0 ? 1.0 : 0.0;
        const double twice = 2.0 * step[lane], times = part[lane] / twice;
        if (twice <= v->longest && times == (double)(int64_t)times)
            step[lane] = twice;
    }
}

/* Marches the group; gives the hours done, fewer than asked for when `stop` was set. */
INLINE int64_t march(const engine *e, const walls *v)
{
    room r = cut_up(v);
    double booked[LEDGER_FLOWS * LANES];
    double part[LANES], step[LANES], now[LANES], busy[LANES], dead[LANES], failed[LANES], where[LANES];

    r.booked = booked;
    begin(e, v, &r);
    EACH_LANE step[lane] = v->longest, dead[lane] = 0.0, v->fault[lane] = -1.0;
    for (int64_t hour = 0; hour < v->hours; hour++) {
        if (hour % 24 == 0 && *(const volatile int64_t *)v->stop)
            return hour;
        double *run_off = v->run_off + v->layers * LANES * hour;
        int left = 0;
        for (int64_t row = 0; row < v->layers; row++)
            EACH_LANE AT(run_off, row) = 0.0;
        for (int lane = 0; lane < LANES; lane++) {
            part[lane] = 0.0;
            busy[lane] = 1.0 - dead[lane];
            left |= busy[lane] > 0.0;
        }
        while (left) {
            EACH_LANE now[lane] = busy[lane] * step[lane];
            one_step(e, v, &r, hour, part, now, busy, failed, where, run_off);
            regulate(v, &r, hour, failed, where, busy, part, step, dead);
            left = 0;
            for (int lane = 0; lane < LANES; lane++)
                left |= busy[lane] > 0.0;
        }
        report(e, v, &r, hour);
    }
    take_stock(e, v, &r, 1.0);
    for (int64_t cell = 0; cell < v->cells; cell++)
        EACH_LANE put_pair(v->state + PAIR * cell, lane, pair_at(r.start + PAIR * cell, lane));
    return v->hours;
}

#endif

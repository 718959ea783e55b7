/* The whole run of one group: its start, its hours, what is reported at the end of each, and who tries again. */

#ifndef MARCH_RUN_H
#define MARCH_RUN_H

#include "march_step.h"

/* Humidity over water or ice that stands free at t in a layer m: no face is more humid. */
INLINE double wet_humidity(const water *w, const double *m, int lane, double t)
{
    const double per = 1.0 / w->rounding, p = AT(m, M_FREE_SUCTION), above = (freezing_suction(w, t).v - p) * per;
    const double suction = fused(w->rounding, rounded(within(-1.0, above, 1.0) + 1.0, above - 1.0), p);
    return exponential(-suction / (w->density * w->gas * (t + 273.15)));
}

/* Temperature and humidity at one face of a cell with properties p in a layer m, of which `shut` stops liquid: what
   flows from it towards `t`, `pressure` beyond the resistances r_q, r_v is taken back over the half cell. */
INLINE void face_value(const water *w, const double *m, const double *p, const double *shut, const double *t,
    const double *pressure, const double *r_q, const double *r_v, double *out)
{
    EACH_LANE {
        const double t0 = AT(p, P_T), p0 = AT(p, P_VAPOUR);
        const double half_q = AT(p, P_HEAT_PATH), half_v = path_to_face(p, shut[lane], lane).v;
        const double t_face = fused((t[lane] - t0) / (half_q + r_q[lane]), half_q, t0);
        const double p_face = fused((pressure[lane] - p0) / (half_v + r_v[lane]), half_v, p0);
        out[lane] = t_face;
        const double humidity = p_face * exponential(-log_saturation(w, t_face, 1.0 / (w->pole + t_face)).v);
        out[LANES + lane] = smaller(humidity, wet_humidity(w, m, lane, t_face));
    }
}

/* Properties of a cell at the end of the hour, kept in one of two places; `beside` is the cell not to be
   overwritten. */
INLINE const double *looked_up(const engine *e, const walls *v, const place *r, int64_t cell, int64_t beside,
    int64_t *have, double (*two)[PROPERTY * LANES])
{
    const int known = have[0] == cell ? 0 : have[1] == cell ? 1 : -1,
        slot = known >= 0 ? known : have[0] == beside ? 1 : 0;
    if (known < 0) {
        e->properties(v, cell, r[cell].start, r[cell].lifted, two[slot]);
        have[slot] = cell;
    }
    return two[slot];
}

/* Water by layer, at the end of the hours given, of lanes that `tell`. */
INLINE void report_layers(const walls *v, const place *r, const double *tell, const int64_t *hour)
{
    ALIGNED double sum[LANES] = {0.0}, free[LANES] = {0.0};
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const int64_t layer = v->layer_of[cell];
        EACH_LANE {
            sum[lane] += r[cell].conserved[lane];
            free[lane] += standing_water(v, cell, r[cell].margin, r[cell].start, lane);
        }
        if (cell + 1 < v->cells && v->layer_of[cell + 1] == layer)
            continue;
        for (int lane = 0; lane < LANES; lane++) {
            const int64_t at = (v->layers * hour[lane] + layer) * LANES + lane;
            if (tell[lane] > 0.0)
                v->layer_water[at] = sum[lane], v->layer_free[at] = free[lane];
            sum[lane] = free[lane] = 0.0;
        }
    }
}

/* Temperature and humidity at the faces asked for, and water by layer, at the end of the hours given, of lanes that
   `tell`. */
INLINE void report(const engine *e, const walls *v, const place *r, const double *tell, const int64_t *hour)
{
    ALIGNED double two[2][PROPERTY * LANES], r_q[LANES], r_v[LANES], shut[LANES];
    ALIGNED double at[SERIES * LANES], one[LANES], out[PAIR];
    int64_t have[2] = {-1, -1};

    EACH_LANE one[lane] = 1.0;
    boundary(v, hour, one, at);
    for (int64_t probe = 0; probe < v->probes; probe++) {
        const int64_t cell = v->probe_cell[probe], inward = v->probe_inward[probe],
            other = inward ? cell + 1 : cell - 1;
        const double *p = looked_up(e, v, r, cell, other, have, two), *m = layer_at(v, cell), *q = NULL;
        if (other < 0)
            face_value(&v->w, m, p, m + M_WETS * LANES, at + F_OUTER * LANES, at + F_OUTDOOR_VAPOUR * LANES, v->ends,
                v->ends + LANES, out);
        else if (other == v->cells)
            face_value(&v->w, m, p, m + M_WETS * LANES, at + F_ROOM * LANES, at + F_ROOM_VAPOUR * LANES,
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
            face_value(&v->w, m, p, shut, q + P_T * LANES, q + P_VAPOUR * LANES, r_q, r_v, out);
        }
        for (int lane = 0; lane < LANES; lane++)
            if (tell[lane] > 0.0)
                put_pair(v->faces + 2 * LANES * (v->probes * hour[lane] + probe), lane, pair_at(out, lane));
    }
    report_layers(v, r, tell, hour);
}

/* Books what the cells hold: with `sign` -1 at the start and 1 at the end, what they have gained. At the end also
   how far that is from the material functions. */
INLINE void take_stock(const engine *e, const walls *v, const place *r, double sign)
{
    ALIGNED double p[PROPERTY * LANES];
    double *ledger = v->ledger;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *c = r[cell].conserved;
        e->properties(v, cell, r[cell].start, r[cell].lifted, p);
        EACH_LANE {
            AT(ledger, L_WATER_GAINED) += sign * c[lane];
            AT(ledger, L_ENERGY_GAINED) += sign * c[LANES + lane];
            AT(ledger, L_WATER_AMISS) += fabs(c[lane] - AT(p, P_WATER));
            AT(ledger, L_ENERGY_AMISS) += fabs(c[LANES + lane] - AT(p, P_ENERGY));
        }
    }
}

/* Takes over the start: unknowns from `state`, contents from the material functions. */
INLINE void begin(const engine *e, const walls *v, place *r)
{
    ALIGNED double p[PROPERTY * LANES];
    for (int64_t cell = 0; cell < v->cells; cell++) {
        place *here = r + cell;
        double *state = v->state + PAIR * cell;
        memset(here, 0, sizeof *here);
        here->coldest = least_of(state);
        lift_at(v, &v->w, cell, here->coldest, state, here->lifted);
        e->properties(v, cell, state, here->lifted, p);
        EACH_LANE {
            put_pair(here->start, lane, pair_at(state, lane));
            put_pair(here->now, lane, pair_at(state, lane));
            put_pair(here->lift, lane, pair_at(here->lifted, lane));
            put_pair(here->conserved, lane, (pair){AT(p, P_WATER), AT(p, P_ENERGY)});
            put_pair(here->base, lane, (pair){AT(p, P_WATER), AT(p, P_ENERGY)});
            here->margin[lane] = AT(p, P_MARGIN);
        }
    }
    take_stock(e, v, r, -1.0);
}

/* Halves the step of a lane that failed; one that has failed too often stops for good. */
INLINE void halve(const walls *v, const place *r, clocks *c, int lane)
{
    const double least = of_bits((uint64_t)(1023 - v->halvings) << 52);
    const int64_t cell = (int64_t)c->where[lane];
    const pair at = pair_at(r[cell].start, lane);
    const double rows[FAULT] = {(double)c->hour[lane], c->where[lane], at.x, at.y};

    c->step[lane] *= 0.5;
    c->stage[lane] = 0;
    if (c->step[lane] >= least)
        return;
    for (int row = 0; row < FAULT; row++)
        AT(v->fault, row) = rows[row];
    c->runs[lane] = 0.0;
}

/* Moves on a lane that is done with its step, which grows again where it fits the hour. */
INLINE void move_on(const walls *v, clocks *c, int lane)
{
    c->part[lane] += c->step[lane];
    c->stage[lane] = 0;
    const double twice = 2.0 * c->step[lane], times = c->part[lane] / twice;
    if (twice <= v->longest && times == (double)(int64_t)times)
        c->step[lane] = twice;
    if (c->part[lane] < 1.0)
        return;
    c->part[lane] = 0.0;
    c->hour[lane]++;
    c->runs[lane] = c->hour[lane] < v->hours ? 1.0 : 0.0;
}

/* Who moves on, who tries half of its step, who starts its next stage. */
INLINE void regulate(const walls *v, const place *r, clocks *c)
{
    for (int lane = 0; lane < LANES; lane++) {
        const int failed = c->failed[lane] > 0.0;
        if (failed)
            halve(v, r, c, lane);
        else if (c->done[lane] > 0.0)
            move_on(v, c, lane);
        else if (c->ended[lane] > 0.0)
            c->stage[lane]++;
        c->anew[lane] = c->runs[lane] > 0.0 && (failed || c->ended[lane] > 0.0) ? 1.0 : 0.0;
        if (c->anew[lane] > 0.0)
            c->turns[lane] = 0;
        c->whole[lane] = 3600.0 * c->step[lane];
        c->span[lane] = METHODS[v->method].gamma * c->whole[lane];
    }
}

/* Adds the flows of stages that have ended to those of their steps, and books those of steps that are done. */
INLINE void settle(const walls *v, clocks *c)
{
    ALIGNED double weight[LANES];
    EACH_LANE weight[lane] = method_at(v, c->hour[lane])->weight[c->stage[lane] + 1];
    for (int row = 0; row < LEDGER_FLOWS; row++)
        EACH_LANE {
            const double flow = AT(c->booked, row), then = AT(c->before, row), old = AT(c->sum, row);
            const double sum = fused(weight[lane], flow, old), add = c->whole[lane] * sum;
            AT(c->sum, row) = c->ended[lane] > 0.0 ? sum : old;
            AT(v->ledger, row) += c->done[lane] > 0.0 ? add : 0.0;
            AT(c->before, row) = c->done[lane] > 0.0 ? flow : then;
        }
    EACH_LANE AT(v->ledger, L_STEPS) += c->done[lane];
}

/* Brings all cells on, and what lanes start a stage with: its boundary values and, in a first one, the sums of flows.
   */
INLINE void advance(const walls *v, place *r, clocks *c)
{
    ALIGNED double when[LANES], bend[LANES], early[LANES];
    const water w = v->w;
    int64_t hour[LANES];
    weights k;

    weigh(v, c, &k);
    for (int64_t cell = 0; cell < v->cells; cell++)
        bring_on(v, &w, r + cell, cell, c, &k);
    for (int lane = 0; lane < LANES; lane++) {
        const method *m = method_at(v, c->hour[lane]);
        const int bends = c->stage[lane] == 0 && c->part[lane] == 0.0 && c->hour[lane] > 0;
        when[lane] = fused(m->at[c->stage[lane]], c->step[lane], c->part[lane]);
        bend[lane] = bends ? m->bend * c->step[lane] : 0.0;
        early[lane] = m->weight[0];
        hour[lane] = c->hour[lane] < v->hours ? c->hour[lane] : v->hours - 1;
    }
    boundary(v, hour, when, c->at);
    add_bend(v, hour, bend, c->at);
    for (int row = 0; row < LEDGER_FLOWS; row++)
        EACH_LANE {
            const double first = early[lane] * AT(c->before, row), old = AT(c->sum, row);
            AT(c->sum, row) = c->anew[lane] > 0.0 && c->stage[lane] == 0 ? first : old;
        }
}

/* What became of a turn: whose stage has ended, whose step is done, who has failed. Hours of `past` that have ended
   are reported before one of their lanes takes over another state, all at once. */
INLINE void look_back(const engine *e, const walls *v, const place *r, clocks *c, const double *worst)
{
    ALIGNED double late[LANES];

    judge(v, c, worst);
    if (any_of(c->ended))
        find_events(v, r, c);
    for (int lane = 0; lane < LANES; lane++) {
        const int last = c->stage[lane] + 1 == METHODS[v->method].stages;
        c->done[lane] = last ? c->ended[lane] * (1.0 - c->failed[lane]) : 0.0;
        late[lane] = c->done[lane] * c->tell[lane];
        c->per[lane] = 1.0 / c->whole[lane];
        c->per_span[lane] = 1.0 / c->span[lane];
    }
    if (any_of(late)) {
        report(e, v, r, c->tell, c->past);
        EACH_LANE c->tell[lane] = 0.0;
    }
}

/* One turn of Newton's method in every lane, each in its own hour, and what follows from it. */
INLINE void turn(const engine *e, const walls *v, place *r, clocks *c)
{
    ALIGNED double first[CROSSING * LANES], last[CROSSING * LANES], worst[LANES];

    e->newton(v, r, c->at, c->span, first, last);
    correct(v, r, c->runs, c->largest, worst);
    book(v, r, c->runs, first, last, c->booked);
    look_back(e, v, r, c, worst);
    settle(v, c);
    for (int lane = 0; lane < LANES; lane++)
        c->past[lane] = c->done[lane] > 0.0 ? c->hour[lane] : c->past[lane];
    regulate(v, r, c);
    for (int lane = 0; lane < LANES; lane++)
        c->tell[lane] = c->done[lane] > 0.0 && c->hour[lane] > c->past[lane] ? 1.0 : c->tell[lane];
    if (any_of(c->anew) || any_of(c->done))
        advance(v, r, c);
}

/* All lanes before their first stage. */
INLINE void set_off(const walls *v, clocks *c)
{
    memset(c, 0, sizeof *c);
    EACH_LANE {
        c->step[lane] = v->longest;
        c->whole[lane] = 3600.0 * c->step[lane];
        c->span[lane] = METHODS[v->method].gamma * c->whole[lane];
        c->runs[lane] = c->anew[lane] = 1.0;
        v->fault[lane] = -1.0;
    }
}

/* Marches the group; gives the hours done, none where `stop` was set meanwhile. */
INLINE int64_t march(const engine *e, const walls *v)
{
    place *r = (place *)v->work;
    clocks c;

    memset(v->run_off, 0, sizeof(double) * LANES * (size_t)(v->layers * v->hours));
    begin(e, v, r);
    set_off(v, &c);
    advance(v, r, &c);
    while (any_of(c.runs)) {
        if (*(const volatile int64_t *)v->stop)
            return 0;
        turn(e, v, r, &c);
    }
    report(e, v, r, c.tell, c.past);
    take_stock(e, v, r, 1.0);
    for (int64_t cell = 0; cell < v->cells; cell++)
        EACH_LANE put_pair(v->state + PAIR * cell, lane, pair_at(r[cell].start, lane));
    return v->hours;
}

#endif

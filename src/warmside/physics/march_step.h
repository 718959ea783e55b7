/* Steps of one group of eight walls, each lane by a clock of its own.

   A lane's step is a whole hour, or 2^-k of it where Newton's method fails or free water comes, goes, freezes or
   thaws. A step is a Runge-Kutta method in the conserved water and energy of each cell. What a stage leaves in a cell
   is the content of the last linear system, value + slope * correction: fluxes cancel between cells exactly, whatever
   Newton's method left undone, and the difference to the isotherm is made good in the next stage. Each turn of
   Newton's method serves all lanes, whatever hour and stage they are in: one that takes more turns or shorter steps
   keeps no other waiting. Lanes that have finished are carried along and left as they are. */

#ifndef MARCH_STEP_H
#define MARCH_STEP_H

#include "march_newton.h"

/* The clocks of all lanes. Where each is: `hour`, `part` of it at the start of the step, `step` as a share of it,
   `stage` of the step and `turns` taken in it; `whole` and `span`, lengths of step and stage [s], `per` and
   `per_span` those of the last turn, inverse; boundary values `at`. What became of the last turn (1.0): the stage has
   `ended`, the step is `done`, it has `failed`; `largest` correction and `where`. What is ahead: it `runs`, it starts
   a stage `anew`, it has an hour to `tell`, `past`. Flows of the last turn (`booked`), at the start of the step
   (`before`) and of the step so far (`sum`). */
typedef struct {
    ALIGNED double part[LANES], step[LANES], whole[LANES], span[LANES], per[LANES], per_span[LANES];
    ALIGNED double ended[LANES], done[LANES], failed[LANES], largest[LANES], where[LANES];
    ALIGNED double runs[LANES], anew[LANES], tell[LANES], at[SERIES * LANES];
    ALIGNED double booked[LEDGER_FLOWS * LANES], before[LEDGER_FLOWS * LANES], sum[LEDGER_FLOWS * LANES];
    int64_t hour[LANES], past[LANES], stage[LANES], turns[LANES];
} clocks;

/* Whether some lane is over 0. */
INLINE int any_of(const double *x)
{
    int any = 0;
    for (int lane = 0; lane < LANES; lane++)
        any |= x[lane] > 0.0;
    return any;
}

/* The method in an hour. In the first, which may start out of balance, its relative of the same order, number of
   stages and length of them, which knows no flow at the start. */
INLINE const method *method_at(const walls *v, int64_t hour) { return &METHODS[hour ? v->method : v->method & 1]; }

/* Boundary values of each lane at its own hour and part of it, straight between full hours. */
INLINE void boundary(const walls *v, const int64_t *hour, const double *part, double *at)
{
    for (int row = 0; row < SERIES; row++)
        EACH_LANE {
            const double *a = v->series + (SERIES * hour[lane] + row) * LANES + lane;
            AT(at, row) = fused(part[lane], a[SERIES * LANES] - a[0], a[0]);
        }
}

/* Adds `share` of the bend that boundary values make at the start of each lane's hour. */
INLINE void add_bend(const walls *v, const int64_t *hour, const double *share, double *at)
{
    const int64_t next = SERIES * LANES;
    for (int row = 0; row < SERIES; row++)
        EACH_LANE {
            const double *a = v->series + (SERIES * hour[lane] + row) * LANES + lane;
            const double before = a[hour[lane] > 0 ? -next : 0];
            AT(at, row) = fused(share[lane], (a[next] - a[0]) - (a[0] - before), AT(at, row));
        }
}

/* ---- a turn of Newton's method ------------------------------------------------------------------------------- */

/* Lanes in which a correction dt might carry a cell over the whole of its freezing range (1.0): cold, with water that
   can freeze, and moved by more than the range is wide. Pores that conduct no liquid have such a range only while
   water stands on them. */
INLINE void may_leap(const water *w, const double *m, const double *margin, const double *y, const double *dt_cut,
    double *may)
{
    EACH_LANE {
        const double lower = smaller(y[lane], y[lane] + dt_cut[lane]);
        const double freezes = margin[lane] < 0.0 ? 1.0 : AT(m, M_WETS);
        const double cold = lower < w->melting + 0.1 ? freezes : 0.0;
        may[lane] = fabs(dt_cut[lane]) > 0.09 ? cold : 0.0;
    }
}

/* Stops corrections dt of lanes that do leap over the freezing range in its middle, where most of the latent heat is:
   Newton's method would else leap to and fro over it. y is before, dt_cut and dx_cut are what is meant. */
INLINE void stop_at_freezing(const water *w, const double *m, const double *may, const double *y,
    const double *dx_cut, double *dt_cut)
{
    const double per = 1.0 / w->rounding, *c = w->freezing;
    EACH_LANE {
        const double x0 = y[LANES + lane], free = AT(m, M_FREE), wets = AT(m, M_WETS);
        const double p0 = wets * exponential(larger(x0, free));
        const double p1 = wets * exponential(larger(x0 + dx_cut[lane], free));
        const double before = (freezing_suction(w, y[lane]).v - p0) * per;
        const double after = (freezing_suction(w, y[lane] + dt_cut[lane]).v - p1) * per;
        const double first = p1 / c[0], middle = w->melting + p1 / (c[0] + first * (c[1] + first * c[2]));
        const double leaps = (before < -1.0 && after > 1.0) || (before > 1.0 && after < -1.0) ? may[lane] : 0.0;
        const double rest = middle - y[lane], meant = dt_cut[lane];
        dt_cut[lane] = leaps > 0.0 ? rest : meant;
    }
}

/* A number where both unknowns have moved. */
INLINE double moved_to(sloped s, double dt, double dx) { return fused(s.x, dx, fused(s.t, dt, s.v)); }

/* Ways of a cell: what Newton's method means (`dl` in ln of the suction), what of it is taken, the temperature there,
   and the lift of the edge before. */
typedef struct { ALIGNED double dl[LANES], dt_cut[LANES], dx_cut[LANES], t[LANES], lift[LANES]; } ways;

/* Looks after freezing in a cell that is cold, or would be, in some lane. */
INLINE void stop_if_leaping(const water *w, const double *m, place *here, const double *active, ways *way)
{
    ALIGNED double may[LANES];
    may_leap(w, m, here->kept + K_MARGIN * LANES, here->now, way->dt_cut, may);
    if (!any_of(may))
        return;
    stop_at_freezing(w, m, may, here->now, way->dx_cut, way->dt_cut);
    EACH_LANE {
        const double old = here->now[lane], moved = old + way->dt_cut[lane];
        way->t[lane] = active[lane] > 0.0 ? moved : old;
    }
    here->coldest = least_of(way->t);
}

/* The correction of a cell from that of the one `below`, which it becomes, and the way to go by it. Dry pores are
   moved along in ln of their suction, which knows nothing of the edge. */
INLINE void find_way(const walls *v, const water *w, place *here, int64_t cell, const double *active, double *below,
    ways *way)
{
    const double *m = layer_at(v, cell), *y = here->now;
    EACH_LANE {
        const double dry = AT(m, M_FREE) < y[LANES + lane] ? 1.0 : 0.0;
        const pair after = pair_at(below, lane);
        const pair x = less_applied(pair_at(here->correction, lane), block_at(here->factor, lane), after);
        put_pair(below, lane, x);
        put_pair(here->correction, lane, x);
        way->lift[lane] = here->lift[lane];
        way->dl[lane] = fused(dry * here->lift[LANES + lane], x.x, x.y);
        way->dt_cut[lane] = within(-15.0, x.x, 15.0);
        way->dx_cut[lane] = within(-2.0, way->dl[lane], 2.0);
        const double moved = y[lane] + way->dt_cut[lane], old = y[lane];
        way->t[lane] = active[lane] > 0.0 ? moved : old;
    }
    const double coldest = least_of(way->t), lower = smaller(coldest, here->coldest);
    here->coldest = coldest;
    if (lower < w->melting + 0.1)
        stop_if_leaping(w, m, here, active, way);
}

/* Applies the corrections to lanes that are still `active` (1.0); gives each lane's largest correction in units of
   the tolerance, 1e30 for one that was cut short or is no number, and the cell where it stands. */
INLINE void correct(const walls *v, place *r, const double *active, double *largest, double *where)
{
    ALIGNED double below[PAIR] = {0.0};
    const water w = v->w;
    ways way;

    EACH_LANE largest[lane] = 0.0, where[lane] = 0.0;
    for (int64_t cell = v->cells - 1; cell >= 0; cell--) {
        place *here = r + cell;
        double *y = here->now, *stage = here->stage;
        const double *d = below, *kept = here->kept, *free = layer_at(v, cell) + M_FREE * LANES, at = (double)cell;
        find_way(v, &w, here, cell, active, below, &way);
        lift_at(v, &w, cell, here->coldest, way.t, here->lift);
        EACH_LANE {
            const double dry = free[lane] < y[LANES + lane] ? 1.0 : 0.0;
            const double moved = dry * (way.lift[lane] - here->lift[lane]);
            const double on = active[lane], dt = d[lane], dx = d[LANES + lane];
            const double sound = dt == way.dt_cut[lane] && way.dl[lane] == way.dx_cut[lane] ? 1.0 : 0.0;
            const double scaled = larger(fabs(dt) * v->per_tolerance_t * AT(kept, K_CARE),
                fabs(way.dl[lane]) * v->per_tolerance_x);
            const double size = sound > 0.0 ? scaled : 1e30;
            const sloped water_ = sloped_at(kept, K_WATER, lane), energy = sloped_at(kept, K_ENERGY, lane);
            const double holds = moved_to(water_, dt, dx), warmth = moved_to(energy, dt, dx);
            const double old_x = y[LANES + lane], old_w = stage[lane], old_e = stage[LANES + lane];
            const double new_x = old_x + way.dx_cut[lane] + moved, farthest = largest[lane], place = where[lane];
            where[lane] = size > farthest ? at : place;
            largest[lane] = larger(farthest, size);
            y[lane] = way.t[lane];
            y[LANES + lane] = on > 0.0 ? new_x : old_x;
            stage[lane] = on > 0.0 ? holds : old_w;
            stage[LANES + lane] = on > 0.0 ? warmth : old_e;
        }
    }
}

/* Flows of the last linear system over the stage, for lanes that are active: into booked[LEDGER_FLOWS][LANES], not
   summed. */
INLINE void book(const walls *v, const place *r, const double *active, const double *first, const double *last,
    double *booked)
{
    const double *d0 = r->correction, *d1 = r[v->cells - 1].correction;
    double air[LANES] = {0.0}, wetting[LANES] = {0.0}, heat[LANES] = {0.0}, gross[LANES] = {0.0},
        warm[LANES] = {0.0};

    for (int64_t cell = 0; cell < v->cells; cell++) {
        if (!v->special_at[cell])
            continue;
        const double *q = r[cell].sources, *d = r[cell].correction;
        EACH_LANE {
            const double a = moved_to(sloped_at(q, Q_AIR, lane), d[lane], d[LANES + lane]);
            const double w = moved_to(sloped_at(q, Q_WETTING, lane), d[lane], d[LANES + lane]);
            const double e = moved_to(sloped_at(q, Q_ENERGY, lane), d[lane], d[LANES + lane]);
            air[lane] += a, wetting[lane] += w, heat[lane] += e, gross[lane] += fabs(a) + fabs(w),
                warm[lane] += fabs(e);
        }
    }
    EACH_LANE {
        const int on = active[lane] > 0.0;
        const flow wo = flow_at(first, C_WATER, lane), eo = flow_at(first, C_ENERGY, lane);
        const flow wi = flow_at(last, C_WATER, lane), ei = flow_at(last, C_ENERGY, lane);
        const double dt0 = d0[lane], dx0 = d0[LANES + lane], dt1 = d1[lane], dx1 = d1[LANES + lane];
        const double water_in = moved_to((sloped){wo.v, wo.t1, wo.x1}, dt0, dx0);
        const double heat_in = moved_to((sloped){eo.v, eo.t1, eo.x1}, dt0, dx0);
        const double water_out = moved_to((sloped){wi.v, wi.t0, wi.x0}, dt1, dx1);
        const double heat_out = moved_to((sloped){ei.v, ei.t0, ei.x0}, dt1, dx1);
        const double rows[LEDGER_FLOWS] = {water_in, -water_out, air[lane], wetting[lane], 0.0, heat_in, -heat_out,
            heat[lane], 0.0, fabs(water_in) + fabs(water_out) + gross[lane],
            fabs(heat_in) + fabs(heat_out) + warm[lane], 0.0, 0.0};
        for (int row = 0; row < LEDGER_FLOWS; row++)
            AT(booked, row) = on ? rows[row] : AT(booked, row);
    }
}

/* After a turn: lanes that are content have ended their stage, those that took too many turns have failed. */
INLINE void judge(const walls *v, clocks *c, const double *worst)
{
    for (int lane = 0; lane < LANES; lane++) {
        const int on = c->runs[lane] > 0.0, content = c->largest[lane] <= 1.0;
        AT(v->ledger, L_SOLVES) += on ? 1.0 : 0.0;
        c->turns[lane]++;
        c->ended[lane] = on && content ? 1.0 : 0.0;
        c->failed[lane] = on && !content && c->turns[lane] >= v->iterations ? 1.0 : 0.0;
        c->where[lane] = worst[lane];
    }
}

/* Free water that makes no event, in units of the potential: 1 g/m2. */
static const double SLIGHT = 0.1;

/* Lanes in whose step free water has come, gone, frozen or thawed by the end of a stage count as failed, unless the
   step is short already: such a kink in the middle of a step would cost its order. */
INLINE void find_events(const walls *v, const place *r, clocks *c)
{
    const double melting = v->w.melting, shortest = v->shortest;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *is = r[cell].kept + K_MARGIN * LANES, *was = r[cell].margin, at = (double)cell;
        const double *y0 = r[cell].start, *y1 = r[cell].now;
        EACH_LANE {
            const double crossed = (was[lane] < 0.0) != (is[lane] < 0.0) ? 1.0 : 0.0;
            const double turned = smaller(was[lane], is[lane]) < -SLIGHT ? crossed : 0.0;
            const double thawed = (y0[lane] < melting) != (y1[lane] < melting) && is[lane] < -SLIGHT ? 1.0 : 0.0;
            const double cuts = c->step[lane] > shortest ? c->ended[lane] : 0.0;
            const double event = larger(turned, thawed) * cuts;
            const double old = c->failed[lane], place = c->where[lane];
            c->failed[lane] = event > 0.0 ? 1.0 : old;
            c->where[lane] = event > 0.0 ? at : place;
        }
    }
}

/* Free water at unknowns y on a cell that `margin` says may hold some, in a stage that moves it less than 0.5. */
INLINE double standing_water(const walls *v, int64_t cell, const double *margin, const double *y, int lane)
{
    const double held = larger(AT(layer_at(v, cell), M_FREE) - y[LANES + lane], 0.0) * v->w.free_per_unit;
    return margin[lane] < 0.5 ? held : 0.0;
}

/* What runs down from a cell, in lanes that are done with a step (1.0), as it is beyond the film limit: water and its
   enthalpy into `run`, booked in the hours given. */
INLINE void drain(const walls *v, const place *here, int64_t cell, const double *done, const int64_t *hour,
    double *run)
{
    const double *limit = v->special + (SPECIAL * cell + S_FILM_LIMIT) * LANES;
    const double *margin = here->kept + K_MARGIN * LANES;
    const int64_t layer = v->layer_of[cell];

    EACH_LANE put_pair(run, lane, (pair){0.0, 0.0});
    if (!(least_of(margin) < 0.5))
        return;
    EACH_LANE {
        const double beyond = larger(standing_water(v, cell, margin, here->now, lane) - limit[lane], 0.0);
        const double excess = done[lane] > 0.0 ? beyond : 0.0, film = film_enthalpy(&v->w, here->now[lane]).v;
        put_pair(run, lane, (pair){excess, excess * film});
    }
    for (int lane = 0; lane < LANES; lane++) {
        v->run_off[(v->layers * hour[lane] + layer) * LANES + lane] += run[lane];
        AT(v->ledger, L_WATER_RUN_OFF) -= run[lane];
        AT(v->ledger, L_ENERGY_RUN_OFF) -= run[LANES + lane];
    }
}

/* A cell at the start of a step: unknowns, lift with its slope, contents, their rate of change, slope of the
   unknowns. */
typedef struct { pair y, lift, held, rate, slope; } rest;

INLINE rest rest_at(const place *here, int lane)
{
    return (rest){pair_at(here->start, lane), pair_at(here->lifted, lane), pair_at(here->conserved, lane),
        pair_at(here->rate, lane), pair_at(here->slope, lane)};
}

INLINE pair either(int first, pair a, pair b) { return (pair){first ? a.x : b.x, first ? a.y : b.y}; }

/* What a cell comes to in a lane that is done with a step, less what `run`s down; else what it was. */
INLINE rest taken_over(const place *here, const clocks *c, double free, double per_unit, pair run, int lane)
{
    const int on = c->done[lane] > 0.0;
    const double per = c->per[lane], per_span = c->per_span[lane];
    const rest was = rest_at(here, lane);
    const pair y = pair_at(here->now, lane), lift = pair_at(here->lift, lane), holds = pair_at(here->stage, lane);
    const pair base = pair_at(here->base, lane);
    const double dry = was.y.y > free ? 1.0 : 0.0, by_t = (y.x - was.y.x) * per;
    const double by_x = fused(dry, lift.x - was.lift.x, y.y - was.y.y) * per;
    return (rest){either(on, (pair){y.x, y.y + run.x / per_unit}, was.y), either(on, lift, was.lift),
        either(on, (pair){holds.x - run.x, holds.y - run.y}, was.held),
        either(on, (pair){(holds.x - base.x) * per_span, (holds.y - base.y) * per_span}, was.rate),
        either(on, (pair){by_t, by_x}, was.slope)};
}

INLINE void put_rest(place *here, rest s, int lane)
{
    put_pair(here->start, lane, s.y);
    put_pair(here->lifted, lane, s.lift);
    put_pair(here->conserved, lane, s.held);
    put_pair(here->rate, lane, s.rate);
    put_pair(here->slope, lane, s.slope);
}

/* Weights of the stage that lanes start (`anew`), which is the `first` or the `third` (1.0): of the way gone so far
   (`on`), of the last step's slope (`lead`), of the flow at the start (`early`), of the gains of the first stage and
   of the last one (`from`). */
typedef struct {
    ALIGNED double anew[LANES], first[LANES], third[LANES], on[LANES], lead[LANES], early[LANES], from[2][LANES];
} weights;

INLINE void weigh(const walls *v, const clocks *c, weights *k)
{
    for (int lane = 0; lane < LANES; lane++) {
        const method *m = method_at(v, c->hour[lane]);
        const int64_t stage = c->stage[lane];
        k->anew[lane] = c->anew[lane];
        k->first[lane] = stage == 0 ? 1.0 : 0.0;
        k->third[lane] = stage == 2 ? 1.0 : 0.0;
        k->on[lane] = stage ? m->at[stage] / m->at[stage - 1] - 1.0 : 0.0;
        k->lead[lane] = stage ? 0.0 : m->at[0] * c->whole[lane];
        k->early[lane] = m->start[stage] * c->whole[lane];
        k->from[0][lane] = m->from[stage][0];
        k->from[1][lane] = stage ? m->from[stage][stage - 1] : 0.0;
    }
}

/* Base of one content of a cell from its rest, the flow at the start and the gains of earlier stages. */
INLINE void lay_base(place *here, const weights *k, int row, double held, double rate, int lane)
{
    const double was = AT(here->base, row), earlier = AT(here->gain, row), gained = AT(here->stage, row) - was;
    const double start = fused(k->early[lane], rate, held), more = fused(k->from[0][lane], earlier, start);
    const double third = k->third[lane], both = fused(k->from[1][lane], gained, third > 0.0 ? more : start);
    const double meant = k->first[lane] > 0.0 ? start : both, keeps = larger(k->first[lane], third);
    const double kept = keeps > 0.0 ? earlier : gained;
    AT(here->base, row) = k->anew[lane] > 0.0 ? meant : was;
    AT(here->gain, row) = k->anew[lane] > 0.0 ? kept : earlier;
}

/* Where Newton's method starts from a rest: by the last step's slope, or the way gone so far. The potential is
   counted from the edge without its lift. */
INLINE pair guess(const place *here, const weights *k, rest s, double dry, int lane)
{
    const int first = k->first[lane] > 0.0;
    const pair y = either(first, s.y, pair_at(here->now, lane));
    const double lift = first ? s.lift.x : here->lift[lane], gone = fused(dry, lift - s.lift.x, y.y - s.y.y);
    const double step_t = fused(k->on[lane], y.x - s.y.x, k->lead[lane] * s.slope.x);
    const double step_x = fused(k->on[lane], gone, k->lead[lane] * s.slope.y);
    return (pair){y.x + within(-5.0, step_t, 5.0), fused(dry, lift, y.y + within(-0.5, step_x, 0.5))};
}

/* Brings a cell on: takes over the new state in lanes that are done with a step, lays the base and makes the guess in
   those that start a stage. */
INLINE void bring_on(const walls *v, const water *w, place *here, int64_t cell, const clocks *c, const weights *k)
{
    const double *free = layer_at(v, cell) + M_FREE * LANES;
    ALIGNED double run[PAIR], t[LANES], x[LANES], dry[LANES];

    drain(v, here, cell, c->done, c->past, run);
    EACH_LANE {
        const rest s = taken_over(here, c, free[lane], w->free_per_unit, pair_at(run, lane), lane);
        const double edge = here->margin[lane], met = AT(here->kept, K_MARGIN), old = here->now[lane];
        const double is_dry = s.y.y > free[lane] ? 1.0 : 0.0;
        const pair meant = guess(here, k, s, is_dry, lane);
        lay_base(here, k, 0, s.held.x, s.rate.x, lane);
        lay_base(here, k, 1, s.held.y, s.rate.y, lane);
        put_rest(here, s, lane);
        here->margin[lane] = c->done[lane] > 0.0 ? met : edge;
        t[lane] = k->anew[lane] > 0.0 ? meant.x : old;
        x[lane] = meant.y;
        dry[lane] = is_dry;
    }
    here->coldest = least_of(t);
    lift_at(v, w, cell, here->coldest, t, here->lift);
    EACH_LANE {
        const double meant = fused(-dry[lane], here->lift[lane], x[lane]), old = here->now[LANES + lane];
        here->now[lane] = t[lane];
        here->now[LANES + lane] = k->anew[lane] > 0.0 ? meant : old;
    }
}

#endif

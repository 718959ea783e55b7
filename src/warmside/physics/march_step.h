/* One group of eight walls, marched hour by hour.

   Each lane takes steps of its own within the hour: a whole hour, or 2^-k of it where Newton's method fails or free
   water comes, goes, freezes or thaws. A step is a Runge-Kutta method in the conserved water and energy of each cell.
   What a stage leaves in a cell is the content of the last linear system, value + slope * correction: fluxes cancel
   between cells exactly, whatever Newton's method left undone, and the difference to the isotherm is made good in the
   next stage. Lanes that have finished are carried along and left as they are. How far frost lifts the free edge is
   kept beside each cell's unknowns: `lifted` at the start of the step, `lift` now. */

#ifndef MARCH_STEP_H
#define MARCH_STEP_H

#include "march_wall.h"

enum ends { E_OUTER_HEAT, E_OUTER_VAPOUR, E_INNER_HEAT, E_INNER_VAPOUR, ENDS };
enum special { S_ROOM_AIR, S_OUTDOOR_AIR, S_BESIDE, S_HEAT, S_WETTING, S_WETTING_AT, S_FILM_LIMIT, SPECIAL };
enum series {
    F_OUTER, F_OUTDOOR, F_OUTDOOR_VAPOUR, F_ROOM, F_ROOM_VAPOUR, F_ROOM_SHARE, F_OUTDOOR_SHARE, F_BESIDE,
        F_WET_SHARE, SERIES };
enum ledger {
    L_WATER_OUTER, L_WATER_INNER, L_WATER_AIR, L_WATER_WETTING, L_WATER_RUN_OFF, L_ENERGY_OUTER, L_ENERGY_INNER,
        L_ENERGY_SOURCES, L_ENERGY_RUN_OFF, L_WATER_GROSS, L_ENERGY_GROSS, L_SOLVES, L_STEPS, LEDGER_FLOWS,
        L_WATER_GAINED = LEDGER_FLOWS, L_ENERGY_GAINED, L_WATER_AMISS, L_ENERGY_AMISS, LEDGER };
enum fault { X_HOUR, X_CELL, X_T, X_POTENTIAL, FAULT };
/* Sources of a cell, each a value with slopes to t and x: water by air, by wetting, energy. */
enum source { Q_AIR, Q_WETTING = 3, Q_ENERGY = 6, SOURCE = 9 };
enum kept { K_WATER, K_ENERGY = 3, K_MARGIN = 6, K_CARE, KEPT };

typedef struct {
    int64_t cells, layers, hours, probes;
    const int64_t *layer_of, *kind, *special_at, *probe_cell, *probe_inward;
    const double *material, *width, *ends, *special, *series;
    double *state, *faces, *layer_water, *layer_free, *run_off, *ledger, *fault, *work;
    const int64_t *stop;
    double per_tolerance_t, per_tolerance_x, longest;
    double shortest;
    int64_t iterations, halvings, method;
    water w;
} walls;

/* Runge-Kutta methods with one implicit coefficient: where each stage stands, with which weight the flow at the
   start of the step and the gains of earlier stages enter its base, and the weights of the flows in the whole step,
   that at the start first. In order: SDIRK of order 2 and 3 (Alexander 1977), TR-BDF2 in the form of Hosea and
   Shampine (Appl. Numer. Math. 20, 1996, 21), and ESDIRK of order 3 (Kennedy and Carpenter, Appl. Numer. Math. 44,
   2003, 139, the implicit part of ARK3(2)4L[2]SA). All are stiffly accurate and L-stable. */
typedef struct { int64_t stages; double gamma, at[3], start[3], from[3][2], weight[4]; } method;

static const method METHODS[4] = {
    {2, 0x1.2bec333018866p-2, {0x1.2bec333018866p-2, 1.0}, {0.0}, {{0.0}, {0x1.3504f333f9de8p+1}},
        {0.0, 0x1.6a09e667f3bcdp-1, 0x1.2bec333018866p-2}},
        {3, 0x1.be53cb1d33509p-2, {0x1.be53cb1d33509p-2, 0x1.6f94f2c74cd42p-1, 1.0}, {0.0},
        {{0.0}, {0x1.4b55f52b40eacp-1}, {0x1.62e58b451e439p+1, -0x1.7a75215efb9c7p+0}},
        {0.0, 0x1.35600951895b4p+0, -0x1.49e9f831ac5edp-1, 0x1.be53cb1d33509p-2}},
        {2, 0x1.2bec333018866p-2, {0x1.2bec333018866p-1, 1.0}, {0x1.2bec333018866p-2, 0x1.6a09e667f3bcdp-2},
        {{0.0}, {0x1.3504f333f9de8p+0}}, {0x1.6a09e667f3bcdp-2, 0x1.6a09e667f3bcdp-2, 0x1.2bec333018866p-2}},
        {3, 0x1.be53cb1d33509p-2, {0x1.be53cb1d33509p-1, 0.6, 1.0},
        {0x1.be53cb1d33509p-2, 0x1.07d4f11ae883ep-2, 0x1.8049eff7a82ddp-3},
        {{0.0}, {-0x1.b765840707663p-3}, {-0x1.5da3d3633020ep+0, 0x1.1d622ca6b2476p+1}},
        {0x1.8049eff7a82ddp-3, -0x1.30caede690a31p-1, 0x1.f18e730c4b5fcp-1, 0x1.be53cb1d33509p-2}}, };

/* Where the work array is cut up; each is [cells][..][LANES]. */
typedef struct {
    double *start, *now, *correction, *factor, *kept, *conserved, *base, *stage, *sources, *slope, *gain[2], *rate,
        *margin, *lifted, *lift, *booked;
} room;

enum { WORK = 2 + 2 + 2 + 4 + KEPT + 2 + 2 + 2 + SOURCE + 2 + 4 + 2 + 1 + 2 + 2 };

INLINE room cut_up(const walls *v)
{
    const int64_t n = v->cells * LANES;
    double *at = v->work;
    room r;
    r.start = at, at += 2 * n;
    r.now = at, at += 2 * n;
    r.correction = at, at += 2 * n;
    r.factor = at, at += 4 * n;
    r.kept = at, at += KEPT * n;
    r.conserved = at, at += 2 * n;
    r.base = at, at += 2 * n;
    r.stage = at, at += 2 * n;
    r.sources = at, at += SOURCE * n;
    r.slope = at, at += 2 * n;
    r.gain[0] = at, at += 2 * n;
    r.gain[1] = at, at += 2 * n;
    r.rate = at, at += 2 * n;
    r.margin = at, at += n;
    r.lifted = at, at += 2 * n;
    r.lift = at;
    return r;
}

/* The heavy functions, compiled once for each vector width. */
typedef struct {
    void (*properties)(const walls *v, int64_t cell, int64_t count, const double *y, const double *lift,
        double *const *p);
    void (*newton)(const walls *v, const room *r, const double *at, const double *span, double *first,
        double *last);
} engine;

INLINE const double *layer_at(const walls *v,
    int64_t cell) { return v->material + MATERIAL * LANES * v->layer_of[cell]; }

INLINE int64_t kind_at(const walls *v, int64_t cell) { return v->kind[v->layer_of[cell]]; }

INLINE void properties(const walls *v, const water *w, int64_t cell, int64_t count, const double *y,
    const double *lift, double *const *p)
{
    cell_properties(w, layer_at(v, cell), kind_at(v, cell), count, v->width + LANES * cell, y, lift, p);
}

/* How far frost lifts the free edge of a cell at temperatures t. */
INLINE void lift_at(const walls *v, const water *w, int64_t cell, const double *t, double *lift)
{
    cell_lift(w, layer_at(v, cell), kind_at(v, cell), t, lift);
}

/* ---- one Newton step of all lanes ---------------------------------------------------------------------------- */

INLINE double moist_enthalpy(const water *w, double t, double ratio)
{
    return fused(1006.0, t, ratio * fused(w->vapour_heat, t, w->vaporisation));
}

/* What reaches a cell other than through its faces. */
INLINE void cell_sources(const water *w, const double *special, const double *free_at, const double *at,
    const double *y, const double *p, double *q)
{
    EACH_LANE {
        const double t = AT(p, P_T), vapour = AT(p, P_VAPOUR), per_ratio = w->dry_air / w->gas;
        const double less = 1.0 / (w->pressure - vapour), ratio = per_ratio * vapour * less;
        const double per_vapour = per_ratio * w->pressure * less * less;
        const double ratio_t = per_vapour * AT(p, P_VAPOUR + 1), ratio_x = per_vapour * AT(p, P_VAPOUR + 2);
        const double from_room = AT(special, S_ROOM_AIR) * AT(at, F_ROOM_SHARE);
        const double from_outside = AT(special, S_OUTDOOR_AIR) * AT(at, F_OUTDOOR_SHARE);
        const double both = from_room + from_outside, of_vapour = fused(w->vapour_heat, t, w->vaporisation);
        const double room_ratio = per_ratio * AT(at, F_ROOM_VAPOUR) / (w->pressure - AT(at, F_ROOM_VAPOUR));
        const double outside_ratio = per_ratio * AT(at, F_OUTDOOR_VAPOUR) / (w->pressure - AT(at, F_OUTDOOR_VAPOUR));
        const double log = larger(y[LANES + lane], free_at[lane]),
            dry = y[LANES + lane] > free_at[lane] ? 1.0 : 0.0;
        const double rate = AT(special, S_WETTING) * AT(at, F_WET_SHARE);
        const double reached = larger(AT(special, S_WETTING_AT), free_at[lane]);
        const double wetted = rate * (log - reached), beside = AT(special, S_BESIDE);
        const double carried = w->liquid_heat * t, here = moist_enthalpy(w, t, ratio);
        const double wetter = fused(from_room, room_ratio - ratio, from_outside * (outside_ratio - ratio));
        put_sloped(q, Q_AIR, lane, (sloped){wetter, -both * ratio_t, -both * ratio_x});
        put_sloped(q, Q_WETTING, lane, (sloped){wetted, 0.0, rate * dry});
        put_sloped(q, Q_ENERGY, lane, (sloped){fused(from_room, moist_enthalpy(w, AT(at, F_ROOM), room_ratio) - here,
            fused(from_outside, moist_enthalpy(w, AT(at, F_OUTDOOR), outside_ratio) - here,
            fused(wetted, carried, fused(beside, AT(at, F_BESIDE) - t, AT(special, S_HEAT))))),
            fused(-both, fused(ratio, w->vapour_heat, fused(ratio_t, of_vapour, 1006.0)),
            fused(wetted, w->liquid_heat, -beside)),
            fused(-both * ratio_x, of_vapour, rate * dry * carried)});
    }
}

/* The rows of one cell, from the crossings of its outer and inner face, and its elimination. */
INLINE void eliminate_cell(int64_t cell, const room *r, const double *p, const double *outer, const double *inner,
    const double *q, const double *span, double *above)
{
    const double *base = r->base + PAIR * cell;
    double *kept = r->kept + KEPT * LANES * cell;
    EACH_LANE {
        const sloped water_ = sloped_at(p, P_WATER, lane), energy = sloped_at(p, P_ENERGY, lane);
        const sloped air = sloped_at(q, Q_AIR, lane), wet = sloped_at(q, Q_WETTING, lane),
            heat = sloped_at(q, Q_ENERGY, lane);
        const flow wo = flow_at(outer, C_WATER, lane), eo = flow_at(outer, C_ENERGY, lane);
        const flow wi = flow_at(inner, C_WATER, lane), ei = flow_at(inner, C_ENERGY, lane);
        const double h = span[lane];
        const block low = {-h * eo.t0, -h * eo.x0, -h * wo.t0, -h * wo.x0},
            up = {h * ei.t1, h * ei.x1, h * wi.t1, h * wi.x1};
        const block own = {fused(-h, eo.t1 - ei.t0 + heat.t, energy.t), fused(-h, eo.x1 - ei.x0 + heat.x, energy.x),
            fused(-h, wo.t1 - wi.t0 + air.t, water_.t), fused(-h, wo.x1 - wi.x0 + air.x + wet.x, water_.x)};
        const pair left = {fused(h, eo.v - ei.v + heat.v, base[LANES + lane] - energy.v),
            fused(h, wo.v - wi.v + air.v + wet.v, base[lane] - water_.v)};
        const block pivot = less_product(own, low, block_at(above, lane));
        const block inverted = inverse(pivot, determinant_of(pivot)), f = product(inverted, up);
        const pair x = applied(inverted, less_applied(left, low, pair_at(above + BLOCK, lane)));
        put_block(above, lane, f);
        put_pair(above + BLOCK, lane, x);
        put_block(r->factor + BLOCK * cell, lane, f);
        put_pair(r->correction + PAIR * cell, lane, x);
        put_sloped(kept, K_WATER, lane, water_);
        put_sloped(kept, K_ENERGY, lane, energy);
        AT(kept, K_MARGIN) = AT(p, P_MARGIN);
        AT(kept, K_CARE) = AT(p, P_CARE);
    }
}

/* Properties kept while they are needed: those of the cells that are worked out together, and the one before. */
enum { RING = 2 * TOGETHER };

/* Works out the properties of `cell` and of the neighbours that go with it; gives the first cell not known then. */
INLINE int64_t look_up(const walls *v, const water *w, const room *r, int64_t cell, double (*ring)[PROPERTY * LANES])
{
    const int64_t layer = v->layer_of[cell];
    double *p[TOGETHER];
    int64_t count = 0;

    while (count < TOGETHER && cell + count < v->cells && v->layer_of[cell + count] == layer) {
        p[count] = ring[(cell + count) % RING];
        count++;
    }
    properties(v, w, cell, count, r->now + PAIR * cell, r->lift + PAIR * cell, p);
    return cell + count;
}

/* Substitution upwards: the correction of every cell. */
INLINE void substitute_cells(int64_t cells, const room *r)
{
    ALIGNED double below[PAIR] = {0.0};

    for (int64_t cell = cells - 1; cell >= 0; cell--)
        EACH_LANE {
            const pair x = less_applied(pair_at(r->correction + PAIR * cell, lane),
                block_at(r->factor + BLOCK * cell, lane), pair_at(below, lane));
            put_pair(below, lane, x);
            put_pair(r->correction + PAIR * cell, lane, x);
        }
}

/* Builds and eliminates the linear system of a stage of length `span` [s] at `r->now`, with boundary values `at`.
   `first` and `last` receive the crossings of the two ends. The nodes of a gap network that joins the slices of one
   wall will enter here: their columns are carried through the elimination beside the right-hand side (a bordered
   system), and their own few unknowns solved from the Schur complement before the substitution below. */
INLINE void newton(const walls *v, const room *r, const double *at, const double *span, double *first, double *last)
{
    ALIGNED double ring[RING][PROPERTY * LANES], faces[2][CROSSING * LANES], above[BLOCK + PAIR] = {0.0},
        none[SOURCE * LANES] = {0.0};
    /* A copy, which no other pointer reaches: what is made of it need be made once. */
    const water w = v->w;
    const int64_t n = v->cells;
    int64_t known = 0;

    for (int64_t cell = 0; cell <= n; cell++) {
        /* p: this cell, q: the one before; inner: the face between them, outer: the face beyond q. */
        double *p = ring[cell % RING], *q = ring[(cell + RING - 1) % RING], *outer = faces[cell & 1],
            *inner = faces[1 - (cell & 1)];
        if (cell == known && cell < n)
            known = look_up(v, &w, r, cell, ring);
        if (cell == 0) {
            end_crossing(&w, layer_at(v, 0), 0, at + F_OUTER * LANES, at + F_OUTDOOR_VAPOUR * LANES, v->ends, p,
                inner);
            memcpy(first, inner, sizeof(double) * CROSSING * LANES);
            continue;
        }
        if (cell < n)
            cell_crossing(&w, layer_at(v, cell - 1), layer_at(v, cell), kind_at(v, cell - 1) & kind_at(v, cell), q, p,
                inner);
        else {
            end_crossing(&w, layer_at(v, n - 1), 1, at + F_ROOM * LANES, at + F_ROOM_VAPOUR * LANES,
                v->ends + E_INNER_HEAT * LANES, q, inner);
            memcpy(last, inner, sizeof(double) * CROSSING * LANES);
        }
        double *sources = none;
        if (v->special_at[cell - 1]) {
            sources = r->sources + SOURCE * LANES * (cell - 1);
            cell_sources(&w, v->special + SPECIAL * LANES * (cell - 1), layer_at(v, cell - 1) + M_FREE * LANES,
                at, r->now + PAIR * (cell - 1), q, sources);
        }
        eliminate_cell(cell - 1, r, q, outer, inner, sources, span, above);
    }
    substitute_cells(n, r);
}

/* ---- one stage: Newton's method until each lane is content ----------------------------------------------------- */

/* Boundary values of each lane at its own time, straight between full hours. */
INLINE void boundary(const walls *v, int64_t hour, const double *part, double *at)
{
    const double *a = v->series + SERIES * LANES * hour, *b = a + SERIES * LANES;
    for (int row = 0; row < SERIES; row++)
        EACH_LANE AT(at, row) = fused(part[lane], AT(b, row) - AT(a, row), AT(a, row));
}

/* Where a correction dt would carry a cell over the whole of its freezing range, stops it in the middle, where most
   of the latent heat is: Newton's method would else leap to and fro over it. Pores that conduct no liquid have such
   a range only while water stands on them. y is before, dt_cut and dx_cut are what is meant. */
INLINE void stop_at_freezing(const water *w, const double *m, const double *margin, const double *y,
    const double *dx_cut, double *dt_cut)
{
    const double per = 1.0 / w->rounding, *c = w->freezing;
    EACH_LANE {
        const double x0 = y[LANES + lane], free = AT(m, M_FREE), wets = AT(m, M_WETS),
            stands = margin[lane] < 0.0 ? 1.0 : wets;
        const double p0 = wets * exponential(larger(x0, free)),
            p1 = wets * exponential(larger(x0 + dx_cut[lane], free));
        const double before = (freezing_suction(w, y[lane]).v - p0) * per;
        const double after = (freezing_suction(w, y[lane] + dt_cut[lane]).v - p1) * per;
        const double first = p1 / c[0], middle = w->melting + p1 / (c[0] + first * (c[1] + first * c[2]));
        const double leaps = (before < -1.0 && after > 1.0) || (before > 1.0 && after < -1.0) ? stands : 0.0;
        const double rest = middle - y[lane], meant = dt_cut[lane];
        dt_cut[lane] = leaps > 0.0 ? rest : meant;
    }
}

/* Whether some lane might leap so: cold, with water that can freeze, and moved by more than the range is wide. */
INLINE int may_leap(const water *w, const double *m, const double *margin, const double *y, const double *dt_cut)
{
    ALIGNED double low[LANES];
    EACH_LANE {
        const double before = y[lane], after = before + dt_cut[lane], water_ = margin[lane] < 0.0 ? 1.0 : AT(m, M_WETS);
        const double far = fabs(dt_cut[lane]) > 0.09 ? water_ : 0.0, lower = smaller(before, after);
        low[lane] = far > 0.0 ? lower : 1e30;
    }
    return least_of(low) < w->melting + 0.1;
}

/* A number where both unknowns have moved. */
INLINE double moved_to(sloped s, double dt, double dx) { return fused(s.x, dx, fused(s.t, dt, s.v)); }

/* Applies the corrections to lanes that are still `active` (1.0); gives each lane's largest correction in units of
   the tolerance, 1e30 for one that was cut short or is no number, and the cell where it stands. */
INLINE void correct(const walls *v, const room *r, const double *active, double *largest, double *where)
{
    ALIGNED double dt_cut[LANES], dx_cut[LANES], dl[LANES], t[LANES], before[LANES];
    const water w = v->w;
    EACH_LANE largest[lane] = 0.0, where[lane] = 0.0;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        double *y = r->now + PAIR * cell, *stage = r->stage + PAIR * cell;
        const double *d = r->correction + PAIR * cell, *kept = r->kept + KEPT * LANES * cell, at = (double)cell;
        const double *m = layer_at(v, cell), *margin = kept + K_MARGIN * LANES;
        double *lift = r->lift + PAIR * cell;
        /* Dry pores are moved along in ln of their suction, which knows nothing of the edge. */
        EACH_LANE {
            const double dry = AT(m, M_FREE) < y[LANES + lane] ? 1.0 : 0.0;
            before[lane] = lift[lane];
            dl[lane] = fused(dry * lift[LANES + lane], d[lane], d[LANES + lane]);
            dt_cut[lane] = within(-15.0, d[lane], 15.0);
            dx_cut[lane] = within(-2.0, dl[lane], 2.0);
        }
        if (may_leap(&w, m, margin, y, dt_cut))
            stop_at_freezing(&w, m, margin, y, dx_cut, dt_cut);
        EACH_LANE {
            const double moved = y[lane] + dt_cut[lane], old = y[lane];
            t[lane] = active[lane] > 0.0 ? moved : old;
        }
        lift_at(v, &w, cell, t, lift);
        EACH_LANE {
            const double dry = AT(m, M_FREE) < y[LANES + lane] ? 1.0 : 0.0,
                moved = dry * (before[lane] - lift[lane]);
            const double on = active[lane], dt = d[lane], dx = d[LANES + lane];
            const double sound = dt == dt_cut[lane] && dl[lane] == dx_cut[lane] ? 1.0 : 0.0;
            const double scaled = larger(fabs(dt) * v->per_tolerance_t * AT(kept, K_CARE),
                fabs(dl[lane]) * v->per_tolerance_x);
            const double size = sound > 0.0 ? scaled : 1e30;
            const sloped water_ = sloped_at(kept, K_WATER, lane), energy = sloped_at(kept, K_ENERGY, lane);
            const double holds = moved_to(water_, dt, dx), warmth = moved_to(energy, dt, dx);
            const double old_x = y[LANES + lane], old_w = stage[lane], old_e = stage[LANES + lane];
            const double new_x = old_x + dx_cut[lane] + moved,
                farthest = largest[lane], place = where[lane];
            where[lane] = size > farthest ? at : place;
            largest[lane] = larger(farthest, size);
            y[lane] = t[lane];
            y[LANES + lane] = on > 0.0 ? new_x : old_x;
            stage[lane] = on > 0.0 ? holds : old_w;
            stage[LANES + lane] = on > 0.0 ? warmth : old_e;
        }
    }
}

/* Flows of the last linear system over the stage, for lanes that are active: into booked[LEDGER_FLOWS][LANES], not
   summed. */
INLINE void book(const walls *v, const room *r, const double *active, const double *first, const double *last,
    double *booked)
{
    const double *d0 = r->correction, *d1 = r->correction + PAIR * (v->cells - 1);
    double air[LANES] = {0.0}, wetting[LANES] = {0.0}, heat[LANES] = {0.0}, gross[LANES] = {0.0},
        warm[LANES] = {0.0};

    for (int64_t cell = 0; cell < v->cells; cell++) {
        if (!v->special_at[cell])
            continue;
        const double *q = r->sources + SOURCE * LANES * cell, *d = r->correction + PAIR * cell;
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

/* Runs Newton's method on lanes that are `busy` (1.0). Lanes that fail get `failed` = 1 and the worst cell. */
INLINE void run_stage(const engine *e, const walls *v, const room *r, const double *at, const double *span,
    const double *busy, double *failed, double *where, double *booked)
{
    ALIGNED double active[LANES], largest[LANES], worst[LANES], first[CROSSING * LANES], last[CROSSING * LANES];
    int left = 1;

    EACH_LANE active[lane] = busy[lane] * (1.0 - failed[lane]);
    for (int64_t turn = 0; turn < v->iterations && left; turn++) {
        e->newton(v, r, at, span, first, last);
        correct(v, r, active, largest, worst);
        book(v, r, active, first, last, booked);
        left = 0;
        for (int lane = 0; lane < LANES; lane++) {
            const int on = active[lane] > 0.0;
            AT(v->ledger, L_SOLVES) += on ? 1.0 : 0.0;
            where[lane] = on ? worst[lane] : where[lane];
            active[lane] = on && !(largest[lane] <= 1.0) ? 1.0 : 0.0;
            left |= active[lane] > 0.0;
        }
    }
    EACH_LANE failed[lane] = active[lane] > 0.0 ? 1.0 : failed[lane];
}

/* ---- one step, one hour, the whole run
   ---------------------------------------------------------------------------- */

/* Base of a stage from the flow at the start and the gains of earlier stages, and a guess: the last step's slope,
   or the way gone so far. */
INLINE void prepare(const walls *v, const room *r, const method *m, int64_t stage, const double *whole)
{
    const double on = stage ? m->at[stage] / m->at[stage - 1] - 1.0 : 0.0, first = stage ? 0.0 : m->at[0];
    const water w = v->w;
    const double at_start = m->start[stage];
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *start = r->start + PAIR * cell, *slope = r->slope + PAIR * cell,
            *rate = r->rate + PAIR * cell;
        const double *held = r->conserved + PAIR * cell, *free = layer_at(v, cell) + M_FREE * LANES;
        double *now = r->now + PAIR * cell, *base = r->base + PAIR * cell, *lift = r->lift + PAIR * cell;
        const double *lifted = r->lifted + PAIR * cell, *lift_then = stage ? lift : lifted;
        EACH_LANE {
            const double dry = start[LANES + lane] > free[lane] ? 1.0 : 0.0;
            const double t = stage ? now[lane] : start[lane], x = stage ? now[LANES + lane] : start[LANES + lane];
            const double step_t = fused(on, t - start[lane], first * whole[lane] * slope[lane]);
            const double gone = fused(dry, lift_then[lane] - lifted[lane], x - start[LANES + lane]);
            const double step_x = fused(on, gone, first * whole[lane] * slope[LANES + lane]);
            AT(base, 0) = fused(at_start * whole[lane], AT(rate, 0), AT(held, 0));
            AT(base, 1) = fused(at_start * whole[lane], AT(rate, 1), AT(held, 1));
            now[lane] = t + within(-5.0, step_t, 5.0);
            now[LANES + lane] = fused(dry, lift_then[lane], x + within(-0.5, step_x, 0.5));
        }
        lift_at(v, &w, cell, now, lift);
        EACH_LANE {
            const double dry = start[LANES + lane] > free[lane] ? 1.0 : 0.0;
            now[LANES + lane] = fused(-dry, lift[lane], now[LANES + lane]);
        }
    }
    for (int64_t before = 0; before < stage; before++)
        for (int64_t k = 0; k < 2 * v->cells * LANES; k++)
            r->base[k] = fused(m->from[stage][before], r->gain[before][k], r->base[k]);
}

/* Keeps what a stage has gained over its base. */
INLINE void gather(const walls *v, const room *r, const method *m, int64_t stage)
{
    if (stage + 1 < m->stages)
        for (int64_t k = 0; k < 2 * v->cells * LANES; k++)
            r->gain[stage][k] = r->stage[k] - r->base[k];
}

/* Free water that makes no event, in units of the potential: 1 g/m2. */
static const double SLIGHT = 0.1;

/* Lanes in whose step free water came, went, froze or thawed count as failed, unless the step is short already: such a
   kink in the middle of a step would cost its order. */
INLINE void find_events(const walls *v, const room *r, const double *step, const double *busy, double *failed,
    double *where)
{
    const double melting = v->w.melting, shortest = v->shortest;
    for (int64_t cell = 0; cell < v->cells; cell++) {
        const double *is = r->kept + (KEPT * cell + K_MARGIN) * LANES, at = (double)cell;
        const double *was = r->margin + LANES * cell, *y0 = r->start + PAIR * cell, *y1 = r->now + PAIR * cell;
        EACH_LANE {
            const double crossed = (was[lane] < 0.0) != (is[lane] < 0.0) ? 1.0 : 0.0;
            const double turned = smaller(was[lane], is[lane]) < -SLIGHT ? crossed : 0.0;
            const double thawed = (y0[lane] < melting) != (y1[lane] < melting) && is[lane] < -SLIGHT ? 1.0 : 0.0;
            const double cuts = step[lane] > shortest && busy[lane] > 0.0 ? 1.0 : 0.0;
            const double event = larger(turned, thawed) * cuts * (1.0 - failed[lane]);
            const double old = failed[lane], place = where[lane];
            failed[lane] = event > 0.0 ? 1.0 : old;
            where[lane] = event > 0.0 ? at : place;
        }
    }
}

/* Whether free water may stand on some lane of a cell, by the last linear system and what it moved. */
INLINE int may_stand(const room *r, int64_t cell) { return least_of(r->margin + LANES * cell) < 0.5; }

/* Free water on a cell. */
INLINE void standing_water(const walls *v, int64_t cell, const double *y, double *held)
{
    EACH_LANE held[lane] = larger(AT(layer_at(v, cell), M_FREE) - y[LANES + lane], 0.0) * v->w.free_per_unit;
}

/* Lets run down what is beyond the film limit, in lanes that are done (1.0), with its enthalpy. */
INLINE void drain(const walls *v, const room *r, int64_t cell, const double *done, double *run_off)
{
    const double *limit = v->special + (SPECIAL * cell + S_FILM_LIMIT) * LANES;
    double *start = r->start + PAIR * cell, *conserved = r->conserved + PAIR * cell, held[LANES];
    const int64_t layer = v->layer_of[cell];

    standing_water(v, cell, start, held);
    EACH_LANE {
        const double beyond = larger(held[lane] - limit[lane], 0.0), excess = done[lane] > 0.0 ? beyond : 0.0;
        const double film = film_enthalpy(&v->w, start[lane]).v;
        conserved[lane] -= excess;
        conserved[LANES + lane] -= excess * film;
        start[LANES + lane] += excess / v->w.free_per_unit;
        AT(run_off, layer) += excess;
        AT(v->ledger, L_WATER_RUN_OFF) -= excess;
        AT(v->ledger, L_ENERGY_RUN_OFF) -= excess * film;
    }
}

/* Takes over the new state in lanes that are done (1.0). */
INLINE void accept(const walls *v, const room *r, const double *done, const double *whole, const double *span,
    double *run_off)
{
    for (int64_t cell = 0; cell < v->cells; cell++) {
        double *y = r->now + PAIR * cell, *start = r->start + PAIR * cell, *slope = r->slope + PAIR * cell;
        double *stage = r->stage + PAIR * cell, *conserved = r->conserved + PAIR * cell;
        double *rate = r->rate + PAIR * cell, *margin = r->margin + LANES * cell;
        const double *free = layer_at(v, cell) + M_FREE * LANES;
        double *lifted = r->lifted + PAIR * cell, *lift = r->lift + PAIR * cell;
        const double *base = r->base + PAIR * cell, *kept = r->kept + KEPT * LANES * cell;
        EACH_LANE {
            const double on = done[lane], per = 1.0 / whole[lane], per_span = 1.0 / span[lane];
            const double new_t = y[lane], new_x = y[LANES + lane], old_t = start[lane], old_x = start[LANES + lane];
            const double new_lift = lift[lane], new_steep = lift[LANES + lane], old_lift = lifted[lane];
            const double old_steep = lifted[LANES + lane], dry = old_x > free[lane] ? 1.0 : 0.0;
            const double by_t = (new_t - old_t) * per, was_t = slope[lane], was_x = slope[LANES + lane];
            const double by_x = fused(dry, new_lift - old_lift, new_x - old_x) * per;
            const double new_w = stage[lane], new_e = stage[LANES + lane], old_w = conserved[lane],
                old_e = conserved[LANES + lane];
            const double rate_w = (new_w - AT(base, 0)) * per_span, rate_e = (new_e - AT(base, 1)) * per_span;
            const double was_w = AT(rate, 0), was_e = AT(rate, 1), edge = AT(margin, 0), met = AT(kept, K_MARGIN);
            AT(rate, 0) = on > 0.0 ? rate_w : was_w;
            AT(rate, 1) = on > 0.0 ? rate_e : was_e;
            AT(margin, 0) = on > 0.0 ? met : edge;
            slope[lane] = on > 0.0 ? by_t : was_t;
            slope[LANES + lane] = on > 0.0 ? by_x : was_x;
            lifted[lane] = on > 0.0 ? new_lift : old_lift;
            lifted[LANES + lane] = on > 0.0 ? new_steep : old_steep;
            start[lane] = on > 0.0 ? new_t : old_t;
            start[LANES + lane] = on > 0.0 ? new_x : old_x;
            conserved[lane] = on > 0.0 ? new_w : old_w;
            conserved[LANES + lane] = on > 0.0 ? new_e : old_e;
        }
        if (may_stand(r, cell))
            drain(v, r, cell, done, run_off);
    }
}

/* A step of every busy lane; `step` is its share of the hour, `part` where in the hour it starts. */
INLINE void one_step(const engine *e, const walls *v, const room *r, int64_t hour, const double *part,
    const double *step, const double *busy, double *failed, double *where, double *run_off)
{
    const method *m = &METHODS[v->method];
    ALIGNED double at[SERIES * LANES], span[LANES], whole[LANES], when[LANES], done[LANES];
    ALIGNED double booked[LEDGER_FLOWS * LANES] = {0.0}, sum[LEDGER_FLOWS * LANES];

    EACH_LANE failed[lane] = 0.0, whole[lane] = 3600.0 * step[lane], span[lane] = m->gamma * whole[lane];
    for (int row = 0; row < LEDGER_FLOWS; row++)
        EACH_LANE AT(sum, row) = m->weight[0] * AT(r->booked, row);
    for (int64_t stage = 0; stage < m->stages; stage++) {
        EACH_LANE when[lane] = part[lane] + m->at[stage] * step[lane];
        boundary(v, hour, when, at);
        prepare(v, r, m, stage, whole);
        run_stage(e, v, r, at, span, busy, failed, where, booked);
        gather(v, r, m, stage);
        for (int row = 0; row < LEDGER_FLOWS; row++)
            EACH_LANE AT(sum, row) = fused(m->weight[stage + 1], AT(booked, row), AT(sum, row));
    }
    find_events(v, r, step, busy, failed, where);
    EACH_LANE done[lane] = busy[lane] * (1.0 - failed[lane]);
    for (int row = 0; row < LEDGER_FLOWS; row++)
        EACH_LANE {
            const double add = whole[lane] * AT(sum, row), flow_now = AT(booked, row),
                flow_then = AT(r->booked, row);
            AT(v->ledger, row) += done[lane] > 0.0 ? add : 0.0;
            AT(r->booked, row) = done[lane] > 0.0 ? flow_now : flow_then;
        }
    EACH_LANE AT(v->ledger, L_STEPS) += done[lane];
    accept(v, r, done, whole, span, run_off);
}

#endif

/* One group of eight walls: what it is made of, and the linear system of one turn of Newton's method in all lanes. */

#ifndef MARCH_NEWTON_H
#define MARCH_NEWTON_H

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

/* Runge-Kutta methods with one implicit coefficient: where each stage stands, with which weight the flow at the start
   of the step and the gains of earlier stages enter its base, and the weights of the flows in the whole step, that at
   the start first. In order: SDIRK of order 2 and 3 (Alexander 1977), TR-BDF2 in the form of Hosea and Shampine
   (Appl. Numer. Math. 20, 1996, 21), and ESDIRK of order 3 (Kennedy and Carpenter, Appl. Numer. Math. 44, 2003, 139,
   the implicit part of ARK3(2)4L[2]SA). All are stiffly accurate and L-stable.

   Boundary values bend at full hours, where a method of order 2 errs most at faces. `bend` times the change of slope
   [per step] is added to them in the first stage, which leaves the order as it is and makes the answer to one bend
   right where a half space lies behind a film: over rates k of decay with the weight k^-1/2, R(-k) - e^-k over k and
   what the addition brings, b k / (1 + gamma k)^2, then sum to nothing; b is 1 / sqrt(8), in SDIRK 1 / sqrt(2). */
typedef struct { int64_t stages; double gamma, bend, at[3], start[3], from[3][2], weight[4]; } method;

static const method METHODS[4] = {
    {2, 0x1.2bec333018866p-2, 0.0296, {0x1.2bec333018866p-2, 1.0}, {0.0}, {{0.0}, {0x1.3504f333f9de8p+1}},
        {0.0, 0x1.6a09e667f3bcdp-1, 0x1.2bec333018866p-2}},
    {3, 0x1.be53cb1d33509p-2, 0.0, {0x1.be53cb1d33509p-2, 0x1.6f94f2c74cd42p-1, 1.0}, {0.0},
        {{0.0}, {0x1.4b55f52b40eacp-1}, {0x1.62e58b451e439p+1, -0x1.7a75215efb9c7p+0}},
        {0.0, 0x1.35600951895b4p+0, -0x1.49e9f831ac5edp-1, 0x1.be53cb1d33509p-2}},
    {2, 0x1.2bec333018866p-2, 0.0593, {0x1.2bec333018866p-1, 1.0}, {0x1.2bec333018866p-2, 0x1.6a09e667f3bcdp-2},
        {{0.0}, {0x1.3504f333f9de8p+0}}, {0x1.6a09e667f3bcdp-2, 0x1.6a09e667f3bcdp-2, 0x1.2bec333018866p-2}},
    {3, 0x1.be53cb1d33509p-2, 0.0, {0x1.be53cb1d33509p-1, 0.6, 1.0},
        {0x1.be53cb1d33509p-2, 0x1.07d4f11ae883ep-2, 0x1.8049eff7a82ddp-3},
        {{0.0}, {-0x1.b765840707663p-3}, {-0x1.5da3d3633020ep+0, 0x1.1d622ca6b2476p+1}},
        {0x1.8049eff7a82ddp-3, -0x1.30caede690a31p-1, 0x1.f18e730c4b5fcp-1, 0x1.be53cb1d33509p-2}}, };

/* What is kept of one cell, side by side. At the start of the step: `start`, its unknowns; `lifted`, the lift of its
   edge and the slope of that; `conserved` and `rate`, its contents and how fast they change; `margin`, how far it was
   over its free edge; `slope`, how fast the unknowns moved in the step before. In the stage at hand: unknowns `now`,
   `lift`, contents `stage`, what these would be without its flows (`base`), what the first stage added to its own
   (`gain`), the lowest temperature of the lanes (`coldest`). Of the last linear system: `kept`, `factor`, `sources`,
   and its answer. */
typedef struct {
    double now[PAIR], lift[PAIR], base[PAIR], stage[PAIR], correction[PAIR], factor[BLOCK], kept[KEPT * LANES];
    double start[PAIR], lifted[PAIR], conserved[PAIR], rate[PAIR], slope[PAIR], gain[PAIR], margin[LANES];
    double sources[SOURCE * LANES], coldest, fills_the_line[LANES - 1];
} place;

/* Rows of eight numbers in it, and numbers from one cell to the next. */
enum { WORK = sizeof(place) / (sizeof(double) * LANES), APART = WORK * LANES };

/* The heavy functions, compiled once for each vector width. */
typedef struct {
    void (*properties)(const walls *v, int64_t cell, const double *y, const double *lift, double *p);
    void (*newton)(const walls *v, place *r, const double *at, const double *span, double *first, double *last);
} engine;

INLINE const double *layer_at(const walls *v,
    int64_t cell) { return v->material + MATERIAL * LANES * v->layer_of[cell]; }

INLINE int64_t kind_at(const walls *v, int64_t cell) { return v->kind[v->layer_of[cell]]; }

/* Properties of `count` cells from what their places hold, or of one. */
INLINE void properties(const walls *v, const water *w, int64_t cell, int64_t count, const double *coldest,
    const double *y, const double *lift, double *const *p)
{
    cell_properties(w, layer_at(v, cell), kind_at(v, cell), count, v->width + LANES * cell, APART, coldest, y, lift,
        p);
}

/* How far frost lifts the free edge of a cell at temperatures t, of which `coldest` is the lowest. */
INLINE void lift_at(const walls *v, const water *w, int64_t cell, double coldest, const double *t, double *lift)
{
    cell_lift(w, layer_at(v, cell), kind_at(v, cell), coldest, t, lift);
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
INLINE void eliminate_cell(place *here, const double *p, const double *outer, const double *inner, const double *q,
    const double *span, double *above)
{
    const double *base = here->base;
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
        put_block(here->factor, lane, f);
        put_pair(here->correction, lane, x);
        put_sloped(here->kept, K_WATER, lane, water_);
        put_sloped(here->kept, K_ENERGY, lane, energy);
        AT(here->kept, K_MARGIN) = AT(p, P_MARGIN);
        AT(here->kept, K_CARE) = AT(p, P_CARE);
    }
}

/* Properties kept while they are needed: those of the cells that are worked out together, and the one before. */
enum { RING = 2 * TOGETHER };

/* Works out the properties of `cell` and of the neighbours that go with it; gives the first cell not known then. */
INLINE int64_t look_up(const walls *v, const water *w, const place *r, int64_t cell,
    double (*ring)[PROPERTY * LANES])
{
    const int64_t layer = v->layer_of[cell];
    double *p[TOGETHER];
    int64_t count = 0;

    while (count < TOGETHER && cell + count < v->cells && v->layer_of[cell + count] == layer) {
        p[count] = ring[(cell + count) % RING];
        count++;
    }
    properties(v, w, cell, count, &r[cell].coldest, r[cell].now, r[cell].lift, p);
    return cell + count;
}

/* Builds and eliminates the linear system of a stage of length `span` [s] at the unknowns `now`, with boundary values
   `at`. `first` and `last` receive the crossings of the two ends. The nodes of a gap network that joins the slices of
   one wall will enter here: their columns are carried through the elimination beside the right-hand side (a bordered
   system), and their own few unknowns solved from the Schur complement before the substitution below. */
INLINE void newton(const walls *v, place *r, const double *at, const double *span, double *first, double *last)
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
            sources = r[cell - 1].sources;
            cell_sources(&w, v->special + SPECIAL * LANES * (cell - 1), layer_at(v, cell - 1) + M_FREE * LANES,
                at, r[cell - 1].now, q, sources);
        }
        eliminate_cell(r + cell - 1, q, outer, inner, sources, span, above);
    }
}

#endif

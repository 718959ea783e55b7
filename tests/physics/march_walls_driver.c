/* Marches one group of walls outside Python, so that a sanitizer can watch it.

   march_walls_driver CASE: reads sizes, numbers and tables as test_march.py lays them out, marches, and writes faces and
   state to standard output. Every array is exactly as long as march_newton.h says. */

#include <stdio.h>
#include <stdlib.h>

#include "../../src/warmside/physics/march_newton.h"

int64_t march_walls(int64_t width, const walls *v);
int64_t march_sizes(int64_t which);

static void *take(FILE *file, size_t size, size_t count)
{
    void *made = malloc(size * count + (count == 0));
    if (!made || fread(made, size, count, file) != count)
        exit(4);
    return made;
}

int main(int argc, char **argv)
{
    FILE *file = argc > 1 ? fopen(argv[1], "rb") : NULL;
    int64_t width, stop = 0;
    walls v;

    if (!file)
        return 5;
    if (fread(&width, sizeof width, 1, file) != 1 || fread(&v, sizeof v, 1, file) != 1)
        return 4;
    const size_t cells = (size_t)v.cells, layers = (size_t)v.layers, hours = (size_t)v.hours, probes = (size_t)v.probes;
    void *layer_of = take(file, 8, cells), *kind = take(file, 8, layers), *special_at = take(file, 8, cells);
    void *probe_cell = take(file, 8, probes), *probe_inward = take(file, 8, probes);
    void *material = take(file, 8, layers * MATERIAL * LANES), *widths = take(file, 8, cells * LANES);
    void *ends = take(file, 8, ENDS * LANES), *special = take(file, 8, cells * SPECIAL * LANES);
    void *series = take(file, 8, (hours + 1) * SERIES * LANES), *state = take(file, 8, cells * 2 * LANES);
    double *faces = malloc(hours * probes * 2 * LANES * 8), *by_layer[3];
    double *ledger = calloc(LEDGER * LANES, 8), *fault = calloc(FAULT * LANES, 8), *work = malloc((size_t)march_sizes(0) * cells * LANES * 8);

    for (int i = 0; i < 3; i++)
        by_layer[i] = malloc(hours * layers * LANES * 8);
    v.layer_of = layer_of, v.kind = kind, v.special_at = special_at, v.probe_cell = probe_cell, v.probe_inward = probe_inward;
    v.material = material, v.width = widths, v.ends = ends, v.special = special, v.series = series, v.state = state;
    v.faces = faces, v.layer_water = by_layer[0], v.layer_free = by_layer[1], v.run_off = by_layer[2];
    v.ledger = ledger, v.fault = fault, v.work = work, v.stop = &stop;
    if (march_walls(width, &v) != v.hours)
        return 6;
    fwrite(faces, 8, hours * probes * 2 * LANES, stdout);
    fwrite(state, 8, cells * 2 * LANES, stdout);
    free(layer_of), free(kind), free(special_at), free(probe_cell), free(probe_inward), free(material), free(widths);
    free(ends), free(special), free(series), free(state), free(faces), free(ledger), free(fault), free(work);
    for (int i = 0; i < 3; i++)
        free(by_layer[i]);
    fclose(file);
    return 0;
}

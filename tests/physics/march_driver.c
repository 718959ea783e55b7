/* Runs march.c outside Python, so that a sanitizer can watch it.

   driver CASES [misaligned|short]: reads cases (width, cells, lower, diagonal, upper, rhs) until the file ends and
   writes unknowns and breakdowns of each to standard output. Every array is exactly as long as march.c says. The second
   word makes the driver break that rule on purpose, which the sanitizer must notice. */

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void march_solve(int64_t width, int64_t cells, const double *lower, const double *diagonal, const double *upper,
                 const double *rhs, double *x, double *factor, double *singular);

static double *numbers(int64_t count)
{
    double *made = malloc((size_t)count * sizeof(double));
    if (!made)
        exit(3);
    return made;
}

static double *read_numbers(FILE *cases, int64_t count)
{
    double *made = numbers(count);
    if (fread(made, sizeof(double), (size_t)count, cases) != (size_t)count)
        exit(4);
    return made;
}

int main(int argc, char **argv)
{
    const char *fault = argc > 2 ? argv[2] : "";
    FILE *cases = argc > 1 ? fopen(argv[1], "rb") : NULL;
    int64_t head[2];

    if (!cases)
        return 5;
    while (fread(head, sizeof(int64_t), 2, cases) == 2) {
        const int64_t cells = head[1], blocks = 32 * cells, pairs = 16 * cells;
        double *lower = read_numbers(cases, blocks), *diagonal = read_numbers(cases, blocks);
        double *upper = read_numbers(cases, blocks), *rhs = read_numbers(cases, pairs);
        double *x = numbers(strcmp(fault, "short") ? pairs : pairs - 8);
        double *factor = numbers(blocks), *singular = numbers(8);
        const uintptr_t off = strcmp(fault, "misaligned") ? 0 : 4;

        march_solve(head[0], cells, (const double *)((uintptr_t)lower + off), diagonal, upper, rhs, x, factor, singular);
        fwrite(x, sizeof(double), (size_t)pairs, stdout);
        fwrite(singular, sizeof(double), 8, stdout);
        free(lower), free(diagonal), free(upper), free(rhs), free(x), free(factor), free(singular);
    }
    fclose(cases);
    return 0;
}

/* Makes the table of rectangular ducts again: the slowest of them, so it stands alone. */
#include <math.h>
#include <stdlib.h>
#include "published/radiosity.h"
#include "support/support.h"

static void rectangles(void **state) {
    (void)state;
    double *row, worst = 0;
    size_t n = test_read_csv("tests/published/rect_duct.csv", 4, &row);
    assert_int_equal(n, 66);
    for (size_t i = 0; i < n; i++) {
        double a = row[4 * i], l = row[4 * i + 1];
        /* panels along half of the duct and across half of a wall; the table claims 1e-4 up to L/b
           = 10, 0.1 % at 50 and 0.5 % at 100, on top of its error column */
        int along = l < 4     ? 5
                    : l < 10  ? 9
                    : l < 20  ? 12
                    : l < 50  ? 18
                    : l < 100 ? 24
                    : a < 2   ? 44
                              : 30;
        double claimed = l <= 10 ? 1e-4 : l < 50 ? 2e-4 : l < 100 ? 1e-3 : 5e-3;
        double w = rectangle_transmission(a, l, along, l < 20 ? 2 : 1);
        assert_close(w, row[4 * i + 2], claimed, row[4 * i + 3], "a/b = %g, L/b = %g", a, l);
        if (l <= 10)
            worst = fmax(worst, fabs(w / row[4 * i + 2] - 1));
    }
    free(row);
    print_message("rectangular ducts up to L/b = 10: at most %.2g off\n", worst);
    /* a very wide one is a slit, but for its two narrow walls: 1/(a/b) of the difference of 10 and
     * 20 */
    double ten = rectangle_transmission(10, 1, 5, 3), twenty = rectangle_transmission(20, 1, 5, 3);
    assert_close(2 * twenty - ten, slit_transmission(1, 14), 1e-3, 0, "towards a slit");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(rectangles)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

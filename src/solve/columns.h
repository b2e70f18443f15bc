/* Loops over the vectors of a row, written out for each small number of them: the strides are
 * constants for the compiler and sums stay in registers. CALL(first, stride, width) is what is done
 * to `width` vectors of every row of `m`, from `first` on. */
#ifndef RFY_SOLVE_COLUMNS_H
#define RFY_SOLVE_COLUMNS_H

enum { RFY_MOST_WIDE = 6 }; /* vectors of a row at once */

#define RFY_BY_COLUMNS(m, CALL)                                                                    \
    switch (m) {                                                                                   \
    case 1:                                                                                        \
        CALL(0, 1, 1);                                                                             \
        break;                                                                                     \
    case 2:                                                                                        \
        CALL(0, 2, 2);                                                                             \
        break;                                                                                     \
    case 3:                                                                                        \
        CALL(0, 3, 3);                                                                             \
        break;                                                                                     \
    case 4:                                                                                        \
        CALL(0, 4, 4);                                                                             \
        break;                                                                                     \
    case 5:                                                                                        \
        CALL(0, 5, 5);                                                                             \
        break;                                                                                     \
    case 6:                                                                                        \
        CALL(0, 6, 6);                                                                             \
        break;                                                                                     \
    default:                                                                                       \
        for (int first = 0; first < (m); first += 3)                                               \
            if ((m)-first >= 3) {                                                                  \
                CALL(first, m, 3);                                                                 \
            } else if ((m)-first == 2) {                                                           \
                CALL(first, m, 2);                                                                 \
            } else {                                                                               \
                CALL(first, m, 1);                                                                 \
            }                                                                                      \
        break;                                                                                     \
    }

#endif

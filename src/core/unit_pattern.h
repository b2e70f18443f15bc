/* Regular expressions for quantities, from the table of units: for the JSON Schema.
 *
 * The dialect is what ECMA-262 and most other engines share. The grammar is that of units.c. One
 * unit, and a product or quotient of two, match only where they have the dimension; longer
 * products, high powers and parentheses match whatever they come to, since a regular expression
 * cannot add exponents. So what rfy_parse_quantity takes matches, and most of what it refuses does
 * not. */
#ifndef RFY_CORE_UNIT_PATTERN_H
#define RFY_CORE_UNIT_PATTERN_H

#include "core/units.h"

/* A number and its unit, not anchored; RFY_DIM_NONE needs a "%" or "ppm" unless `bare`. */
const char *rfy_quantity_pattern(rfy_arena *arena, const rfy_units *units, rfy_dim dim, bool bare);

/* The same without long products, for texts that go on behind the quantity. */
const char *rfy_quantity_pattern_short(rfy_arena *arena, const rfy_units *units, rfy_dim dim);

/* Any number of blanks between number and unit, and at both ends. */
#define RFY_PATTERN_BLANKS "[ \\t\xC2\xA0\xE2\x80\x89\xE2\x80\xAF]*"

#endif

/* The entry point libFuzzer looks for, declared for the replay program as well. */
#ifndef RFY_TESTS_FUZZ_H
#define RFY_TESTS_FUZZ_H
#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#endif

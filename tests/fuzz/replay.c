/* Runs files through the fuzz entry point, each also cut short at many places and with single bytes
 * changed: what the fuzzer found once stays found, in every build. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fuzz/fuzz.h"

int main(int argc, char **argv) {
    for (int i = 1; i < argc; i++) {
        FILE *file = fopen(argv[i], "rb");
        if (!file) {
            perror(argv[i]);
            return 1;
        }
        enum { MOST = 1 << 20 };
        uint8_t *data = malloc(MOST);
        if (!data)
            return 1;
        size_t size = fread(data, 1, MOST, file);
        fclose(file);
        LLVMFuzzerTestOneInput(data, size);
        size_t stride = size / 40 + 1;
        for (size_t cut = 0; cut < size; cut += stride)
            LLVMFuzzerTestOneInput(data, cut);
        static const uint8_t spoilt[] = {0, '"', '}', '\\', 0xC3, '9'};
        for (size_t at = stride / 2; at < size; at += stride) {
            uint8_t kept = data[at];
            data[at] = spoilt[at % sizeof spoilt];
            LLVMFuzzerTestOneInput(data, size);
            data[at] = kept;
        }
        free(data);
    }
    printf("%d files replayed\n", argc - 1);
    return argc < 2;
}

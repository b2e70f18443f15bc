/* What became of a log's rows, for the writers. */
#ifndef RFY_IO_WRITE_LOG_H
#define RFY_IO_WRITE_LOG_H

#include "io/write_common.h"

/* READ FROM name: rows used and left out, how it was read. */
void rfy_page_log(rfy_page *page, const rfy_log *log);
/* The key `key` ("log"): the same. */
void rfy_json_log(rfy_json *json, const char *key, const rfy_log *log);

/* MEASURED: where readings follow a prediction and where not, in words. */
void rfy_page_overlay(rfy_page *page, const rfy_overlay *overlay);
/* The key "measured". */
void rfy_json_overlay(rfy_json *json, const rfy_overlay *overlay);

#endif

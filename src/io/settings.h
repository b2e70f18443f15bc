/* Changes from outside the file (`--set "port/volume=0.5 L"`), made in the JSON tree before it is
 * read.
 *
 * A path is the name of a part (or a key of the description itself, such as "run"), then keys and
 * places separated by "/". In a line the pieces follow directly, by place from 0 or by their own
 * name: "foreline hose/1/bore". A missing last key is made if the tables know it. */
#ifndef RFY_IO_SETTINGS_H
#define RFY_IO_SETTINGS_H

#include "io/read_record.h"

/* A setting whose value is NULL changes nothing: what stands at its path counts as coming from that
 * setting from then on, so that a reader finds its slot.
 * `root_record` describes reader->json.root. Problems get line 0 and the setting's number, from 1,
 * as column. */
void rfy_apply_settings(rfy_reader *reader, const rfy_record *root_record,
                        const rfy_setting *settings, size_t n);

#endif

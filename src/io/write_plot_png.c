/* PNG by librsvg and cairo, opened only when a PNG is wanted: a run should neither need them nor
 * wait for them to load. The few functions used have kept their form since librsvg 2.46 and cairo
 * 1.0; their types are opaque, so they stand here as void *. */
#define _POSIX_C_SOURCE 200809L
#include <dlfcn.h>
#include <stdlib.h>
#include <string.h>
#include "io/chart.h"

typedef struct rectangle { /* RsvgRectangle */
    double x, y, width, height;
} rectangle;

typedef struct failure { /* GError */
    unsigned domain;
    int code;
    const char *message;
} failure;

typedef int sink(void *closure, const unsigned char *data, unsigned length);

typedef struct renderer {
    void *rsvg, *cairo, *object;
    void *(*handle_new)(const unsigned char *data, size_t length, failure **error);
    int (*render)(void *handle, void *context, const rectangle *viewport, failure **error);
    void (*unref)(void *object);
    void *(*surface_new)(int format, int width, int height);
    void *(*context_new)(void *surface);
    void (*scale)(void *context, double x, double y);
    int (*write_png)(void *surface, sink *write, void *closure);
    void (*context_free)(void *context);
    void (*surface_free)(void *surface);
} renderer;

static bool look_up(void *library, const char *name, void *function) {
    void *found = library ? dlsym(library, name) : NULL;
    if (found)
        memcpy(function, &found, sizeof found); /* ISO C has no cast between the two */
    return found != NULL;
}

/* What is opened stays open until the program ends: GLib does not stand being closed. */
static bool open_renderer(renderer *r, char *message) {
    *r = (renderer){.rsvg = dlopen("librsvg-2.so.2", RTLD_NOW | RTLD_LOCAL),
                    .cairo = dlopen("libcairo.so.2", RTLD_NOW | RTLD_LOCAL),
                    .object = dlopen("libgobject-2.0.so.0", RTLD_NOW | RTLD_LOCAL)};
    bool good = look_up(r->rsvg, "rsvg_handle_new_from_data", &r->handle_new) &&
                look_up(r->rsvg, "rsvg_handle_render_document", &r->render) &&
                look_up(r->object, "g_object_unref", &r->unref) &&
                look_up(r->cairo, "cairo_image_surface_create", &r->surface_new) &&
                look_up(r->cairo, "cairo_create", &r->context_new) &&
                look_up(r->cairo, "cairo_scale", &r->scale) &&
                look_up(r->cairo, "cairo_surface_write_to_png_stream", &r->write_png) &&
                look_up(r->cairo, "cairo_destroy", &r->context_free) &&
                look_up(r->cairo, "cairo_surface_destroy", &r->surface_free);
    if (!good)
        snprintf(message, 256,
                 "a PNG needs the library librsvg 2.46 or later (Debian: librsvg2-2), which is not "
                 "here; write an .svg, which every browser shows");
    return good;
}

static int write_bytes(void *closure, const unsigned char *data, unsigned length) {
    enum { CAIRO_SUCCESS = 0, CAIRO_WRITE_ERROR = 11 };
    return fwrite(data, 1, length, closure) == length ? CAIRO_SUCCESS : CAIRO_WRITE_ERROR;
}

/* The picture's own size, from its root element. */
static void size_of(const char *svg, double *width, double *height) {
    const char *at = strstr(svg, " width=\""), *up = strstr(svg, " height=\"");
    *width = at ? strtod(at + 8, NULL) : 960;
    *height = up ? strtod(up + 9, NULL) : 600;
}

static rfy_status render(const renderer *r, FILE *out, const char *svg, size_t length,
                         char *message) {
    enum { ARGB = 0, FINENESS = 2 }; /* dots to a px: print and dense screens */
    double width, height;
    failure *error = NULL; /* not freed: the program is about to end */
    size_of(svg, &width, &height);
    void *handle = r->handle_new((const unsigned char *)svg, length, &error);
    void *surface = r->surface_new(ARGB, (int)(FINENESS * width), (int)(FINENESS * height));
    void *context = r->context_new(surface);
    r->scale(context, FINENESS, FINENESS);
    const rectangle whole = {0, 0, width, height};
    rfy_status status = RFY_OK;
    if (!handle || !r->render(handle, context, &whole, &error)) {
        snprintf(message, 256, "librsvg could not draw the picture: %.160s",
                 error && error->message ? error->message : "no reason known");
        status = RFY_RUN_FAILED;
    } else if (r->write_png(surface, write_bytes, out) != 0 || ferror(out) || fflush(out) != 0) {
        status = RFY_IO_FAILED;
    }
    r->context_free(context);
    r->surface_free(surface);
    if (handle)
        r->unref(handle);
    return status;
}

rfy_status rfy_write_plot_png(FILE *out, const rfy_result *result, const rfy_plot_options *options,
                              char *message) {
    renderer r;
    char *svg = NULL;
    size_t length = 0;
    message[0] = '\0';
    if (!open_renderer(&r, message))
        return RFY_RUN_FAILED;
    FILE *memory = open_memstream(&svg, &length);
    rfy_status status = memory ? rfy_write_plot_svg(memory, result, options) : RFY_IO_FAILED;
    if (memory && fclose(memory) != 0)
        status = RFY_IO_FAILED;
    if (status == RFY_OK)
        status = render(&r, out, svg, length, message);
    free(svg);
    return status;
}

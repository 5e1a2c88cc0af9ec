#include "serve/pairing.h"

#include "evenspool/base/text.h"

#include <qrencode.h>

#include <errno.h>
#include <stdlib.h>

#define MARGIN 4          /* light modules around the code, as the standard asks */
#define BYTES_A_MODULE 32 /* at most, in either kind of picture                  */

static es_status encode(const char *address, QRcode **out)
{
    errno = 0;
    *out = QRcode_encodeString8bit(address, 0, QR_ECLEVEL_M);
    if (*out)
        return ES_OK;
    return errno == ENOMEM ? ES_ERR_NOMEM : ES_ERR_ARG;
}

/* Margin included: x and y from 0 to width + 2 MARGIN - 1, beyond it all is light. */
static int is_dark(const QRcode *code, int x, int y)
{
    x -= MARGIN;
    y -= MARGIN;
    if (x < 0 || y < 0 || x >= code->width || y >= code->width)
        return 0;
    return code->data[y * code->width + x] & 1;
}

static void write_text(const QRcode *code, es_text *to)
{
    static const char *const blocks[2][2] = {{"\u2588", "\u2580"}, {"\u2584", " "}};
    int side = code->width + 2 * MARGIN;
    for (int y = 0; y < side; y += 2) {
        for (int x = 0; x < side; x++)
            es_text_add(to, "%s", blocks[is_dark(code, x, y)][is_dark(code, x, y + 1)]);
        es_text_add(to, "\n");
    }
}

static void write_svg(const QRcode *code, es_text *to)
{
    int side = code->width + 2 * MARGIN;
    es_text_add(to,
                "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" "
                "shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h%dv%dh-%dz\"/>"
                "<path fill=\"#000\" d=\"",
                side, side, side, side, side);
    for (int y = 0; y < side; y++)
        for (int x = 0; x < side; x++)
            if (is_dark(code, x, y))
                es_text_add(to, "M%d %dh1v1h-1z", x, y);
    es_text_add(to, "\"/></svg>");
}

static es_status draw(const char *address, void (*write)(const QRcode *, es_text *), char **out)
{
    *out = NULL;
    QRcode *code;
    es_status status = encode(address, &code);
    if (status != ES_OK)
        return status;
    size_t side = (size_t)code->width + 2 * MARGIN, room = side * side * BYTES_A_MODULE + 512;
    char *picture = malloc(room);
    if (picture) {
        es_text text = es_text_over(picture, room);
        write(code, &text);
    }
    QRcode_free(code);
    *out = picture;
    return picture ? ES_OK : ES_ERR_NOMEM;
}

es_status es_pairing_text(const char *address, char **out)
{
    return draw(address, write_text, out);
}

es_status es_pairing_svg(const char *address, char **out)
{
    return draw(address, write_svg, out);
}

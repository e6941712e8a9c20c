#!/usr/bin/env python3
"""Makes the font files and styles/font.css of the pages from the npm package of Sofia Sans (SIL Open Font License 1.1).

    python3 deploy/fonts/subset.py

It needs npm, python3-fonttools and python3-brotli. The weights are limited to those that the pages use, the figures keep their tabular
forms, and characters that the package lacks are made from its own: arrows by turning one, a subscript by lowering a superscript, the
narrow no-break space from the usual one. The licence has no reserved font name, so the changed font keeps its name.
"""

import io
import json
import pathlib
import subprocess
import tarfile
import tempfile

from fontTools import subset
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

PACKAGE, VERSION = "@fontsource-variable/sofia-sans", "5.3.0"
FAMILY, LIGHTEST, BOLDEST = "Sofia Sans", 400, 800
WEB = pathlib.Path(__file__).parents[2] / "api" / "web"
FONTS, SHEET = WEB / "static" / "fonts", WEB / "static" / "styles" / "font.css"
LIMIT = 100 << 10  # bytes of all font files

ARROW_UP, ARROWS = 0x2191, {0x2190: (0, 1, -1, 0), 0x2192: (0, -1, 1, 0)}  # by the matrix that turns the one that points up
SUPERSCRIPTS, LOWERED = {0x2082: 0xB2, 0x2083: 0xB3}, -450  # font units
NO_BREAK_SPACE, NARROW_SPACES = 0xA0, {0x202F: 0.6, 0x2009: 0.6}  # as shares of the usual space
LATIN = [*range(0x20, 0x7F), *range(0xA0, 0x100), 0x152, 0x153, *range(0x2010, 0x2027), 0x2030, 0x2039, 0x203A, 0x2044, 0x20AC, 0x2122,
         0x2191, 0x2193, 0x2212, 0x131]
EXTENDED = [*range(0x100, 0x180), 0x218, 0x219, 0x21A, 0x21B, 0x1E9E]

# Advance widths of Arial and the fonts that are as wide, in thousandths of the size (from memory), and how often English uses each
# character in a thousand (common practice, no source): the fallback is scaled so that a line is as long before the font arrives.
ARIAL = dict(zip("abcdefghijklmnopqrstuvwxyz ", [556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500,
                                                 278, 556, 500, 722, 500, 500, 500, 278]))
OFTEN = dict(zip("abcdefghijklmnopqrstuvwxyz ", [65, 12, 22, 33, 103, 20, 16, 49, 56, 1, 5, 33, 20, 57, 60, 14, 1, 50, 52, 73, 23, 8, 18, 1, 16,
                                                 1, 180]))


def package():
    """Returns the files of the npm package by name."""
    with tempfile.TemporaryDirectory() as folder:
        name = json.loads(subprocess.run(["npm", "pack", "--silent", "--json", f"{PACKAGE}@{VERSION}"], cwd=folder, check=True,
                                         capture_output=True).stdout)[0]["filename"]
        path = pathlib.Path(folder) / name
        if not path.exists():  # npm writes scoped names in two ways
            path = next(pathlib.Path(folder).glob("*.tgz"))
        with tarfile.open(path) as files:
            return {f.name.removeprefix("package/"): files.extractfile(f).read() for f in files if f.isfile()}


def add(font, code, name, glyph, advance):
    """Adds a glyph without variation of its own: what it is composed of varies."""
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"][name] = glyph
    font["hmtx"][name] = (round(advance), getattr(glyph, "xMin", 0))
    font["gvar"].variations[name] = []
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[code] = name


def composed(font, of, matrix):
    """Returns a glyph made of another one."""
    pen = TTGlyphPen(font.getGlyphSet())
    pen.addComponent(of, matrix)
    glyph = pen.glyph()
    glyph.recalcBounds(font["glyf"])
    return glyph


def complete(font):
    """Adds the characters that the package lacks."""
    names = font.getBestCmap()
    glyphs, up = font["glyf"], names[ARROW_UP]
    middle_x, middle_y = (glyphs[up].xMin + glyphs[up].xMax) / 2, (glyphs[up].yMin + glyphs[up].yMax) / 2
    for code, (xx, xy, yx, yy) in ARROWS.items():
        matrix = (xx, xy, yx, yy, round(middle_x - xx * middle_x - yx * middle_y), round(middle_y - xy * middle_x - yy * middle_y))
        add(font, code, f"uni{code:04X}", composed(font, up, matrix), font["hmtx"][up][0])
    for code, of in SUPERSCRIPTS.items():
        if of in names:
            add(font, code, f"uni{code:04X}", composed(font, names[of], (1, 0, 0, 1, 0, LOWERED)), font["hmtx"][names[of]][0])
    for code, share in NARROW_SPACES.items():
        add(font, code, f"uni{code:04X}", TTGlyphPen(None).glyph(), share * font["hmtx"][names[NO_BREAK_SPACE]][0])


def make(source, wanted, symbols):
    """Returns a font file with the wanted characters, those characters, and the font."""
    font = TTFont(io.BytesIO(source), recalcTimestamp=False)
    font = instancer.instantiateVariableFont(font, {"wght": (LIGHTEST, BOLDEST)})
    if symbols:
        if "HVAR" in font:
            del font["HVAR"]  # advances come from gvar: the added glyphs have none there
        complete(font)
        wanted = [*wanted, *ARROWS, *SUPERSCRIPTS, *NARROW_SPACES]
    options = subset.Options(layout_features=["*"], flavor="woff2", hinting=False, notdef_outline=True, name_IDs=[0, 1, 2, 3, 5, 6, 13, 14])
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=wanted)
    subsetter.subset(font)
    font.flavor = "woff2"
    out = io.BytesIO()
    font.save(out)
    return out.getvalue(), sorted(font.getBestCmap()), font


def ranges(codes):
    """Returns codes as CSS's unicode-range."""
    spans = []
    for c in codes:
        if spans and spans[-1][1] == c - 1:
            spans[-1][1] = c
        else:
            spans.append([c, c])
    return ", ".join(f"U+{a:X}" if a == b else f"U+{a:X}-{b:X}" for a, b in spans)


def main():
    files = package()
    FONTS.mkdir(exist_ok=True)
    total, had, faces = 0, set(), []
    for part, wanted, symbols in (("latin", LATIN, True), ("latin-ext", EXTENDED, False)):
        body, codes, font = make(files[f"files/sofia-sans-{part}-wght-normal.woff2"], wanted, symbols)
        total += len(body)
        (FONTS / f"sofia-sans-{part}.woff2").write_bytes(body)
        faces.append((part, ranges([c for c in codes if c not in had])))
        had.update(codes)
        if part == "latin":
            regular = font
    if total > LIMIT:
        raise SystemExit(f"{total} bytes of fonts; {LIMIT} are allowed")
    (FONTS / "sofia-sans-OFL.txt").write_bytes(files["LICENSE"])
    units, names = regular["head"].unitsPerEm, regular.getBestCmap()
    wide = sum(n * regular["hmtx"][names[ord(c)]][0] * 1000 / units for c, n in OFTEN.items())
    adjust = wide / sum(n * ARIAL[c] for c, n in OFTEN.items())
    percent = lambda share: f"{100 * share:.1f}%"
    sheet = "/* The font: one family, from here. Written by deploy/fonts/subset.py; its licence is fonts/sofia-sans-OFL.txt. */\n\n"
    for part, codes in faces:
        sheet += (f'@font-face {{\n  font-family: "{FAMILY}"; font-weight: {LIGHTEST} {BOLDEST}; font-style: normal; font-display: swap;\n'
                  f'  src: url("sofia-sans-{part}.woff2") format("woff2");\n  unicode-range: {codes};\n}}\n')
    sheet += ("/* Until it arrives: a font of the device, as wide and as high, so that nothing moves. */\n"
              f'@font-face {{\n  font-family: "{FAMILY} fallback"; src: local("Arial"), local("Liberation Sans"), local("Arimo");\n'
              f'  size-adjust: {percent(adjust)}; ascent-override: {percent(regular["hhea"].ascent / units / adjust)}; '
              f'descent-override: {percent(-regular["hhea"].descent / units / adjust)}; line-gap-override: 0%;\n}}\n')
    SHEET.write_text(sheet)
    print(f"{total} bytes of fonts")


if __name__ == "__main__":
    main()

#!/bin/sh
# Makes the fonts of package paper from the whole family. Run by hand, seldom; nothing else runs it.
# Needs npm, python3, fonttools and brotli. Literata is under the SIL Open Font License 1.1 with no reserved font name.
#
# The subset holds French and English text, Greek letters of the method and the signs of tables. Its figures are the
# family's tabular lining ones by default, so that columns of numbers stand straight everywhere, and it gains the narrow
# no-break space that French puts before : ; % and between thousands, and the raised letters of 1ᵉʳ. TTF has no kerning: what is measured with it
# is never narrower than what a page sets with the WOFF2, which has.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
npm pack --silent @expo-google-fonts/literata@0.4.3
tar xzf expo-google-fonts-literata-0.4.3.tgz
cp package/LICENSE_FONT "$here/OFL.txt"
cat > cut.py <<'PY'
import sys
from io import BytesIO

from fontTools import subset
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

source, name, out = sys.argv[1:]
text = set(range(0x20, 0x7F)) | set(range(0xA0, 0x100))
text |= {ord(c) for c in "ŒœŸŠšŽž–—‘’‚“”„†‡•…‰′″‹›€−×÷±≈≠≤≥∞→←↑↓⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉½⅓⅔¼¾ΔΣΦΩαβγδελμρστφχω№ᵉʳ\u2009\u202f"}

def tabular(font):
    """Makes tabular lining figures the default ones."""
    table = font["GSUB"].table
    swap = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag in ("lnum", "tnum"):
            for index in record.Feature.LookupListIndex:
                for sub in table.LookupList.Lookup[index].SubTable:
                    if getattr(sub, "ExtSubTable", None):
                        sub = sub.ExtSubTable
                    swap.setdefault(record.FeatureTag, {}).update(sub.mapping)
    for cmap in font["cmap"].tables:
        for code in range(0x30, 0x3A):
            if code in cmap.cmap:
                glyph = cmap.cmap[code]
                for tag in ("lnum", "tnum"):
                    glyph = swap.get(tag, {}).get(glyph, glyph)
                cmap.cmap[code] = glyph

def narrow_space(font):
    """Adds U+202F, 5/8 of a space wide, where the family has none."""
    thin = font.getBestCmap()[0x2009]
    for cmap in font["cmap"].tables:
        if cmap.isUnicode():
            cmap.cmap[0x202F] = thin

def raised(font):
    """Is the font with raised e and r, which French has in 1ᵉʳ, which the family lacks."""
    glyphs, outlines = font.getGlyphSet(), font["glyf"]
    up = font["OS/2"].sCapHeight - 0.62 * font["OS/2"].sxHeight
    for code, letter in ((0x1D49, "e"), (0x02B3, "r")):
        name, pen = f"raised.{letter}", TTGlyphPen(None)
        glyphs[letter].draw(TransformPen(pen, (0.62, 0, 0, 0.62, 0, up)))
        outlines[name] = pen.glyph()
        outlines[name].recalcBounds(outlines)
        if "vmtx" in font:
            font["vmtx"][name] = font["vmtx"][letter]
        font["hmtx"][name] = (round(0.62 * font["hmtx"][letter][0]), outlines[name].xMin)
        for cmap in font["cmap"].tables:
            if cmap.isUnicode():
                cmap.cmap[code] = name
    font.setGlyphOrder(list(dict.fromkeys([*font.getGlyphOrder(), *outlines.glyphs])))
    whole = BytesIO()
    font.save(whole)
    return TTFont(whole, recalcTimestamp=False)

for ending, features in (("ttf", []), ("woff2", ["kern", "liga", "ccmp", "locl", "mark"])):
    font = TTFont(source, recalcTimestamp=False)
    tabular(font)
    narrow_space(font)
    font = raised(font)
    missing = text - set(font.getBestCmap())
    if missing:
        print(name, "lacks", " ".join(map(chr, sorted(missing))), file=sys.stderr)
    options = subset.Options()
    options.layout_features = features
    options.hinting = False
    options.notdef_outline = True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
    options.flavor = "woff2" if ending == "woff2" else None
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=text)
    cutter.subset(font)
    subset.save_font(font, f"{out}/{name}.{ending}", options)
PY
python3 cut.py package/400Regular/Literata_400Regular.ttf regular "$here"
python3 cut.py package/700Bold/Literata_700Bold.ttf bold "$here"
python3 cut.py package/400Regular_Italic/Literata_400Regular_Italic.ttf italic "$here"

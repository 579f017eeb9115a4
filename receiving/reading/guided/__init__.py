"""Guided reading: a blurred, dim, crumpled or partly torn symbol, read by comparing it with the codes expected.

The problem: too little is seen to decode the bars, but the manifest says which codes can be there. The method: one
brightness profile across the bars (`rectify`, `profile`), templates of every printed form of every expected code
(`patterns`, `templates`), a coarse search by correlation (`search`), and a fit of place, bend, blur, light and ink
spread by variable projection (Golub & Pereyra 1973, doi:10.1137/0710036; `fit`). A code is read when its residual
variance is small and that of every rival is 1.9 times as large: of the other expected codes, of the numbers beside it,
and of the text that the bars spell when nothing is expected (`unexpected`, Viterbi 1967).

What holds always: a code that is not expected is never given; the limits (`decision`) were counted on labels that are
not expected; nothing is drawn by chance. docs/guided-reading.md shows one label on its way.

The public names are imported when first used: they load OpenCV and SciPy.
"""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__)

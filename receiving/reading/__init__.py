"""What was seen: image bytes, scanner lines and typed text become raw reads, and raw reads become claims.

The problem: find every label on a photo of a pile and say nothing that is not printed there. A photo goes through
cheap steps first: zxing-cpp on the whole, then each region of bars that stays unread, upright, closer and with quiet
zones, by zxing-cpp and ZBar (`cascade`, `attempts`), last guided reading (`guided`). A text counts when it proves
itself (an SSCC with its check digit), is on a manifest, or two independent attempts agree (`acceptance`, `seen`).

Data: image bytes -> gray levels (`image`) -> `Symbol` -> `RawRead`, stored exactly as seen -> `LabelRead`, the claims
that `interpret` finds in it: GS1 element strings (`gs1`), data identifiers (`mh10`), the words printed around the bars
(`printed_text`), a shipper's own patterns (`patterns`). `interpret` is total: whatever was read gets a claim.

What holds always: a raw read is kept as it came; photos from outside are decoded in a process with limits (`pool`).
The public names are imported when first used, so that importing this room loads no image library.
"""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__, at_first_call=("decoders", "photo", "printed", "showing", "video"))

"""What should arrive: a manifest or an advance ship notice becomes `Manifest`, a layout file becomes `Layout`.

The problem: shippers send tables (CSV, XLSX) with headings of their own and ship notices (ASC X12 856, EDIFACT DESADV);
each carton, number, weight and quantity must end on a manifest or be named as left out. Tables are read
row by row, each cell with its line and heading; notices are split into segments and put together as levels of packages
(HL loops, CPS groups), which both formats give as one `Notice`. Both ways end in the same checks of a shipment.

What holds always: a file is taken whole or not at all, with every fault listed; each element of a notice is used or
listed by segment and qualifier with its count; a number keeps its leading zeros; units stand in the heading.
The public names are imported when first used, so that importing the room costs nothing.
"""

from receiving.reexport import reexport

__getattr__, __all__ = reexport(__name__)

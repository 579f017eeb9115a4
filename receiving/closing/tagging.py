"""A tagged PDF: what stands on a page is marked as heading, paragraph, table or figure, in the order of reading.

The problem: reportlab draws pages, and knows no structure. The method: its own canvas is told where each piece begins
and ends, numbers them (marked content, ISO 32000-1, 14.6), and writes the tree of structure elements (14.7, 14.8) at
the end. Invariant: whatever is not a piece of the tree, as lines of a table and a page's foot, is marked an artifact.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from enum import Enum, auto
from typing import Any
from xml.sax.saxutils import escape

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference, PDFStream, PDFString
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table

FAMILY = "Paper"
"""The font of all papers, as reportlab knows it."""
HEADINGS = ("Title", "Heading1", "Heading2", "Heading3")
_METADATA = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"><pdfuaid:part>1</pdfuaid:part>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language></rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>"""
"""What the file says of itself (XMP, ISO 16684-1): its title, and that it means to be accessible (ISO 14289-1, 5)."""


@dataclass
class Element:
    """One element of the structure; ``kids`` are elements, and (page from 1, number of the marked content on it)."""

    tag: str
    alt: str = ""
    kids: list["Element | tuple[int, int]"] = field(default_factory=list)
    column: int = 0
    attributes: dict[str, str] = field(default_factory=dict)
    written: str = ""


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """A canvas that keeps the structure of what is drawn on it; ``language`` (BCP 47) is that of its words.

    ``attached`` are files to put into the document, by their names.
    """

    def __init__(
        self, *arguments: Any, language: str = "en", attached: Mapping[str, bytes] | None = None, **options: Any
    ) -> None:
        # Else Helvetica, which is not in the file, would be the font of each page until another is chosen.
        super().__init__(*arguments, **{**options, "initialFontName": FAMILY})
        self._language = language
        self._attached = dict(attached or {})
        self._document = Element("Document")
        self._open = [self._document]
        self._marks: list[list[Element]] = [[]]

    def open(self, tag: str, **attributes: str) -> None:
        """Begin an element that holds others."""
        element = Element(tag, attributes=attributes)
        self._open[-1].kids.append(element)
        self._open.append(element)

    def shut(self) -> None:
        """End the element that was begun last."""
        self._open.pop()

    @contextmanager
    def marked(self, tag: str, alt: str = "", written: str = "") -> Iterator[None]:
        """An element whose content is what is drawn inside; ``alt`` tells what a figure shows.

        ``written`` is the text as it was written, where its glyphs follow each other in another order.
        """
        element, page = Element(tag, alt, written=written), self._marks[-1]
        element.kids.append((len(self._marks), len(page)))
        self._open[-1].kids.append(element)
        self._code.append(f"/{tag} <</MCID {len(page)}>> BDC")
        page.append(element)
        yield
        self._code.append("EMC")

    def showPage(self) -> None:  # noqa: N802
        """End the page; what was drawn outside of all elements is an artifact."""
        self._code[:] = _with_artifacts(self._code)
        number = len(self._marks)
        super().showPage()
        page = self._doc.idToObject[f"Page{number}"]
        page.__NoDefault__ = [*page.__NoDefault__, "StructParents", "Tabs"]
        page.StructParents, page.Tabs = number - 1, PDFName("S")
        self._marks.append([])

    def save(self) -> None:
        """Write the document with its structure."""
        self._write_structure()
        self._write_attached()
        super().save()

    def _write_structure(self) -> None:
        names: dict[int, str] = {}
        levels = sorted({each.tag for each in self._all() if each.tag in HEADINGS}, key=HEADINGS.index)
        rank = {level: f"H{n}" for n, level in enumerate(levels, 1)}
        for number, element in enumerate(self._all()):
            names[id(element)] = f"structure{number}"
        root = "structureRoot"
        self._write(self._document, root, names, rank)
        lists = [(n, PDFArray([_ref(names[id(each)]) for each in page])) for n, page in enumerate(self._marks) if page]
        tree = [part for numbered in lists for part in numbered]
        self._doc.Reference(
            PDFDictionary(
                {
                    "Type": PDFName("StructTreeRoot"),
                    "K": PDFArray([_ref(names[id(self._document)])]),
                    "ParentTree": PDFDictionary({"Nums": PDFArray(tree)}),
                    "ParentTreeNextKey": len(self._marks),
                }
            ),
            root,
        )
        catalog = self._doc.Catalog
        catalog.StructTreeRoot = _ref(root)
        catalog.MarkInfo = PDFDictionary({"Marked": "true"})
        catalog.Lang = PDFString(self._language)
        catalog.ViewerPreferences = PDFDictionary({"DisplayDocTitle": "true"})
        facts = _METADATA.format(title=escape(self._doc.info.title), language=self._language)
        about = PDFStream(content=facts.encode(), filters=[])
        about.dictionary["Type"], about.dictionary["Subtype"] = PDFName("Metadata"), PDFName("XML")
        catalog.Metadata = self._doc.Reference(about, "metadata")

    def _write_attached(self) -> None:
        """The files inside, uncompressed, as the source of the document (ISO 32000-2, 7.11.4 and 14.13)."""
        names: list[Any] = []
        for number, (name, data) in enumerate(sorted(self._attached.items())):
            stream = PDFStream(content=data, filters=[])
            stream.dictionary["Type"], stream.dictionary["Subtype"] = (
                PDFName("EmbeddedFile"),
                PDFName("application/json"),
            )
            stream.dictionary["Params"] = PDFDictionary({"Size": len(data)})
            inside = self._doc.Reference(stream, f"attached{number}")
            about = PDFDictionary(
                {
                    "Type": PDFName("Filespec"),
                    "F": PDFString(name),
                    "UF": PDFString(name),
                    "EF": PDFDictionary({"F": inside, "UF": inside}),
                    "AFRelationship": PDFName("Source"),
                    "Desc": PDFString(name),
                }
            )
            names += [PDFString(name), self._doc.Reference(about, f"attachedAs{number}")]
        if names:
            catalog = self._doc.Catalog
            catalog.Names = PDFDictionary({"EmbeddedFiles": PDFDictionary({"Names": PDFArray(names)})})
            catalog.__NoDefault__ = [*catalog.__NoDefault__, "AF"]
            catalog.AF = PDFArray(names[1::2])

    def _all(self) -> Iterator[Element]:
        waiting = [self._document]
        while waiting:
            element = waiting.pop(0)
            yield element
            waiting += [kid for kid in element.kids if isinstance(kid, Element)]

    def _write(self, element: Element, parent: str, names: dict[int, str], rank: dict[str, str]) -> None:
        name = names[id(element)]
        kids: list[Any] = []
        for kid in element.kids:
            if isinstance(kid, Element):
                self._write(kid, name, names, rank)
                kids.append(_ref(names[id(kid)]))
            else:
                page, number = kid
                kids.append(PDFDictionary({"Type": PDFName("MCR"), "Pg": _ref(f"Page{page}"), "MCID": number}))
        content: dict[str, Any] = {
            "Type": PDFName("StructElem"),
            "S": PDFName(rank.get(element.tag, element.tag)),
            "P": _ref(parent),
            "K": PDFArray(kids),
        }
        if element.alt:
            content["Alt"] = PDFString(element.alt)
        if element.written:
            content["ActualText"] = PDFString(element.written)
        if element.attributes:
            owned = {name: PDFName(value) for name, value in element.attributes.items()}
            content["A"] = PDFDictionary({"O": PDFName("List" if element.tag == "L" else "Table"), **owned})
        self._doc.Reference(PDFDictionary(content), name)


def _ref(name: str) -> PDFObjectReference:
    return PDFObjectReference(name)


def _with_artifacts(code: list[str]) -> list[str]:
    """The drawing with all that is in no marked content marked as an artifact; text objects are whole in one entry."""
    found: list[str] = []
    loose: list[str] = []
    inside = 0
    for each in code:
        if each.endswith(" BDC"):
            found += _artifact(loose)
            loose, inside = [], inside + 1
        (found if inside else loose).append(each)
        if each == "EMC":
            inside -= 1
    return found + _artifact(loose)


def _artifact(loose: list[str]) -> list[str]:
    return ["/Artifact BMC", *loose, "EMC"] if any(each.strip() for each in loose) else loose


class TaggedParagraph(Paragraph):  # type: ignore[misc]
    """A paragraph, or a heading by its style; inside a table it is the content of its cell."""

    written = ""

    def draw(self) -> None:
        """Draw it as an element."""
        style = self.style.name
        in_table = isinstance(self.canv, TaggedCanvas) and self.canv._open[-1].tag in ("TD", "TH")
        with mark_element(self.canv, style if style in HEADINGS and not in_table else "P", written=self.written):
            super().draw()


class Shape(Enum):
    """What rows and columns on paper are for who hears them."""

    TABLE = auto()
    """A table; the cells of its first row are heads of their columns."""
    LIST = auto()
    """One list, read column by column; its items are the cells with words."""
    LAYOUT = auto()
    """Nothing: they only place what stands in them."""


class TaggedTable(Table):  # type: ignore[misc]
    """Rows and columns whose cells are elements, by what they are for (PDF/UA-1, ISO 14289-1, 7.5 and 7.6)."""

    shape = Shape.LAYOUT

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **{"renderCB": _tag_table, **options})
        self.setStyle([("FONTNAME", (0, 0), (-1, -1), FAMILY)])


def _tag_table(table: Any, event: str, *facts: Any) -> None:
    canvas = table.canv
    if not isinstance(canvas, TaggedCanvas):
        return
    if table.shape is Shape.TABLE:
        _tag_cells(canvas, event, *facts)
    elif table.shape is Shape.LIST:
        _tag_items(canvas, event, *facts)


def _tag_cells(canvas: TaggedCanvas, event: str, *facts: Any) -> None:
    if event == "startTable":
        canvas.open("Table")
    elif event == "startRow":
        canvas.open("TR")
    elif event == "startCell":
        canvas.open("TH", Scope="Column") if facts[0] == 0 else canvas.open("TD")
    elif event in ("endCell", "endRow", "endTable"):
        canvas.shut()


def _tag_items(canvas: TaggedCanvas, event: str, *facts: Any) -> None:
    if event == "startTable":
        canvas.open("L", ListNumbering="None")
    elif event == "endTable":
        items = [kid for kid in canvas._open[-1].kids if isinstance(kid, Element)]
        canvas._open[-1].kids[:] = [
            each for n in sorted({i.column for i in items}) for each in items if each.column == n
        ]
        canvas.shut()
    elif event == "startCell" and _has_words(facts[2]):
        canvas.open("LI")
        canvas._open[-1].column = facts[1]
        canvas.open("LBody")
    elif event == "endCell" and canvas._open[-1].tag == "LBody":
        canvas.shut()
        canvas.shut()


def _has_words(cell: Any) -> bool:
    return any(isinstance(each, Paragraph) for each in (cell if isinstance(cell, list | tuple) else (cell,)))


class Lines(Flowable):  # type: ignore[misc]
    """Lines through points (y upwards); with ``words`` a figure that these tell, else decoration.

    Drawn on the canvas itself: reportlab's own drawings choose a font that is not in the file.
    """

    def __init__(
        self, lines: Sequence[Sequence[tuple[float, float]]], width_pt: float, height_pt: float, words: str = ""
    ) -> None:
        super().__init__()
        self.lines, self.width, self.height, self.words = lines, width_pt, height_pt, words

    def wrap(self, *room: float) -> tuple[float, float]:
        """Its own size, whatever room there is."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it, as an element where it is told in words."""
        with mark_element(self.canv, "Figure", self.words) if self.words else nullcontext():
            self.canv.setLineWidth(1 if self.words else 0.6)
            self.canv.setLineCap(1)
            for points in self.lines:
                path = self.canv.beginPath()
                path.moveTo(*points[0])
                for point in points[1:] or points:
                    path.lineTo(*point)
                self.canv.drawPath(path)


@contextmanager
def mark_element(canvas: Any, tag: str, alt: str = "", written: str = "") -> Iterator[None]:
    """An element on a tagged canvas; on any other one nothing more than what is drawn."""
    if not isinstance(canvas, TaggedCanvas):
        yield
        return
    with canvas.marked(tag, alt, written):
        yield

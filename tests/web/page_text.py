"""What a person reads on a page: the text of the parsed HTML, and its links and fields."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

SILENT = {"script", "style", "title", "svg"}
VOID = {"meta", "link", "input", "br", "img", "hr", "rect", "path", "image", "polygon", "circle"}


@dataclass
class Element:
    name: str
    attributes: dict[str, str]
    text: str = ""
    inside: list["Element"] = field(default_factory=list)


@dataclass
class Page(HTMLParser):
    """A parsed page; ``open_tags`` is empty when every tag was closed in order."""

    elements: list[Element] = field(default_factory=list)
    open_tags: list[Element] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.elements.append(element)
        for outer in self.open_tags:
            outer.inside.append(element)
        if tag not in VOID:
            self.open_tags.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self.open_tags or self.open_tags[-1].name != tag:
            self.faults.append(f"</{tag}> closes {self.open_tags[-1].name if self.open_tags else 'nothing'}")
        elif tag not in VOID:
            self.open_tags.pop()

    def handle_data(self, data: str) -> None:
        for element in self.open_tags:
            element.text += data
        if not any(element.name in SILENT for element in self.open_tags):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str, /, **attributes: str) -> list[Element]:
        wanted = {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items()}
        found = [e for e in self.elements if e.name == tag and wanted.items() <= e.attributes.items()]
        # The switch of languages stands on every page: who looks for a page's own forms and buttons does not mean it.
        switches = [e for e in self.elements if e.attributes.get("class") == "languages"]
        of_switch = {id(e) for switch in switches for e in (switch, *switch.inside)}
        return found if wanted.get("name") == "language" else [e for e in found if id(e) not in of_switch]


def read(html: str) -> Page:
    page = Page()
    page.feed(html)
    page.close()
    return page

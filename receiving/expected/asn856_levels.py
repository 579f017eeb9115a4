"""The HL tree of one X12 856: which goods lie in which package, for which store, in which outer box."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from receiving.expected import edi_codes as codes
from receiving.expected.edi import DEEPEST, EdiLog, Segment, check_notice_size, count_all
from receiving.expected.edi_codes import kilograms, parse_number
from receiving.expected.notice import NO_REFERENCES, Notice, NoticeLine, Package, set_measure
from receiving.messages import message


@dataclass(slots=True)
class Level:
    """One HL loop while its segments are read; ``loads`` are the packages that a CLD counts, not yet numbered."""

    segment: int
    number: str
    code: str
    parent: "Level | None"
    package: Package | None = None
    line: NoticeLine | None = None
    parties: dict[str, Segment] | None = None
    references: list[tuple[str, str]] | None = None
    loads: list[Package] | None = None
    packs_below: "list[Level] | None" = None
    depth: int = 1

    def up(self) -> "Iterator[Level]":
        """This level and those above it."""
        level: Level | None = self
        while level is not None:
            yield level
            level = level.parent


@dataclass
class Transaction:
    """One 856 between ST and SE: its levels as they are read, and its notice when all are."""

    segment: int
    log: EdiLog
    notice: Notice = field(init=False)
    levels: dict[str, Level] = field(default_factory=dict)
    lines: list[Level] = field(default_factory=list)
    packed: list[Level] = field(default_factory=list)
    with_parties: list[Level] = field(default_factory=list)
    order_references: list[list[tuple[str, str]]] = field(default_factory=list)
    with_references: list[Level] = field(default_factory=list)
    taken: list[tuple[Package, list[list[tuple[str, str]]]]] = field(default_factory=list)
    weighed: list[tuple[Segment, Package]] = field(default_factory=list)
    hl: Level | None = None
    at: Level | None = None
    references: dict[tuple[str, str], None] = field(default_factory=dict)
    hl_count: int = 0
    units: float = 0
    lading: list[tuple[Segment, Level]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.notice = Notice(self.segment)

    def add(self, level: Level) -> None:
        """Start a level; a tree deeper than any real packing is cut off at its depth, so that walks stay short."""
        check_notice_size(self.hl_count, self.log, level.segment, "HL")
        parent = level.parent
        if parent is not None and parent.depth >= DEEPEST:
            self.log.warn(level.segment, "HL", message("levels are nested deeper than {deepest}", deepest=DEEPEST))
            level.parent = parent.parent
        level.depth = level.parent.depth + 1 if level.parent else 1
        self.levels[level.number] = self.hl = self.at = level

    def package(self, number: int) -> Package | None:
        """The package of the level that is being read; made when a mark stands on a level that is usually none."""
        level = self.at
        if level is None:
            return None
        if level.package is None:
            level.package = self.new_package(Package(number, f"HL {level.number}"))
            self.packed.append(level)
            for up in level.up():
                if up is not level and up.line is not None:
                    up.packs_below = up.packs_below or []
                    up.packs_below.append(level)
        return level.package

    def new_package(self, package: Package) -> Package:
        """Add a package to the notice."""
        self.notice.packages.append(package)
        return package

    def refer(self, name: str, value: str) -> bool:
        """Note a reference of the whole shipment."""
        if value:
            self.references[name, value] = None
        return bool(value)

    def line(self, number: int) -> NoticeLine:
        """The goods of the level that is being read."""
        level = self.at
        assert level is not None
        if level.line is None:
            level.line = NoticeLine(number)
            self.lines.append(level)
            check_notice_size(len(self.lines), self.log, number, "LIN")
        return level.line

    def done(self) -> Notice:
        """The notice, once all its segments were taken."""
        notice = self.notice
        if not notice.shipment:
            self.log.warn(self.segment, "BSN", message("the notice gives no shipment number (BSN02)"))
        self._weigh_packages()
        self._place_packages()
        self._place_lines()
        self._place_references()
        self._check_lading()
        notice.references = list(self.references)
        for level in self.with_parties:
            count_all((level.parties or {}).values(), self.log)
        return notice

    def _weigh_packages(self) -> None:
        """TD107 is the weight of all packages that TD102 counts: of several numbers here, it is that of none."""
        for segment, package in self.weighed:
            weight = kilograms(segment.at(7), segment.at(8))
            if weight and (len(package.ssccs) <= 1 or (parse_number(segment.at(2)) or 1) == 1):
                set_measure(package, "weight_kg", weight, self.log, segment.number)
                segment.use(6, 7, 8)
            self.log.count(segment)

    def _place_packages(self) -> None:
        below = self._stores_below()
        for level in self.packed:
            package = level.package
            assert package is not None
            package.outer = next((up.package for up in level.up() if up is not level and up.package), None)
            if package.outer:
                package.outer.holds_packages = True
        for level, package in self._packages():
            package.store = self._store_of(level, package, below)
            package.references = next((up.references for up in level.up() if up.references), NO_REFERENCES)
        self._take_orders_inside()
        if not self.notice.packages or any(not p.store for p in self.notice.packages if not p.holds_packages):
            tops = (level for level in self.levels.values() if level.parent is None)
            self.notice.store = next((store for level in tops if (store := _store(level))), "")

    def _take_orders_inside(self) -> None:
        """A pack that holds orders has their references, where it stands in no order itself."""
        inside: dict[int, list[list[tuple[str, str]]]] = {}
        for order in self.with_references:
            holder = next((up.package for up in order.up() if up is not order and up.package), None)
            if holder and order.references:
                inside.setdefault(id(holder), []).append(order.references)
        for _, package in self._packages():
            if package.references is NO_REFERENCES and (several := inside.get(id(package))):
                package.references = [pair for references in several for pair in references]
                self.taken.append((package, several))

    def _packages(self) -> Iterator[tuple[Level, Package]]:
        """Every package with the level that names it: a pack, a tare, or an item with its loads."""
        yield from ((level, level.package) for level in self.packed if level.package)
        yield from ((level, load) for level in self.lines for load in level.loads or ())

    def _place_lines(self) -> None:
        """Goods go into the package of their level or around it, or, where items hold packs, into each pack below."""
        for level in self.lines:
            line = level.line
            assert line is not None
            if level.loads:
                self._fill_loads(line, level.loads)
                self._check_loads(line, level.loads)
            if level.loads or _is_shared_below(level, line) or _is_named_above(level):
                continue
            holder = next((up.package for up in level.up() if up.package), None)
            (holder.lines if holder is not None else self.notice.loose).append(line)
        for level in self.lines:
            if level.packs_below and level.line is not None:
                self._fill_packs(level, level.line)

    def _fill_packs(self, level: Level, line: NoticeLine) -> None:
        """Goods of an item that holds packs: each pack has what it says, and the others share what is left."""
        packs = [pack for pack in level.packs_below or () if _holds_goods_of(pack, level)]
        stated = {id(pack): number for pack in packs if pack.line and (number := parse_number(pack.line.qty))}
        total, sharing = parse_number(line.qty), len(packs) - len(stated)
        share = _share(total, sum(stated.values()), sharing) if total and sharing else ""
        if total and sharing and not share:
            quantity = f"{line.qty} {line.unit}".strip()
            shown = message("{quantity} in {number} packages", quantity=quantity, number=len(packs))
            self.log.warn(line.segment, "SN1", message("how an item is spread over its packages is not said"), shown)
        for pack in packs:
            qty = pack.line.qty if pack.line and id(pack) in stated else share
            unit = (pack.line.unit if pack.line else "") or line.unit
            if pack.package:
                pack.package.lines.append(NoticeLine(pack.segment, line.ids, line.description, qty, unit))

    def _fill_loads(self, line: NoticeLine, loads: Sequence[Package]) -> None:
        """Each load holds the item's goods, whether these were named before the loads (CLD) or behind them."""
        for load in loads:
            held = load.lines[0]
            held.ids, held.description, held.unit = line.ids, line.description, line.unit

    def _check_loads(self, line: NoticeLine, loads: Sequence[Package]) -> None:
        units, total = sum(parse_number(load.lines[0].qty) or 0 for load in loads), parse_number(line.qty)
        if total is not None and units != total:
            stated = message("the loads (CLD) of an item do not add up to its units (SN1)")
            self.log.warn(
                line.segment, "CLD", stated, message("{units} and {total}", units=float(units), total=float(total))
            )

    def _stores_below(self) -> dict[int, dict[str, Level]]:
        """For each level that holds orders with a store: those stores, each with the level that names it."""
        below: dict[int, dict[str, Level]] = {}
        for level in self.with_parties:
            store = _store(level, use=False) if level.code != "S" else ""
            for up in level.up() if store else ():
                if up is not level:
                    below.setdefault(id(up), {}).setdefault(store, level)
        return below

    def _store_of(self, level: Level, package: Package, below: dict[int, dict[str, Level]]) -> str:
        """The store of a package: named around it, or by an order inside it; empty where only the shipment names it."""
        use = not package.holds_packages
        around = next((store for up in level.up() if up.code != "S" and (store := _store(up, use=use))), "")
        inside = below.get(id(level), {})
        if around or not inside or package.holds_packages:
            return around
        if len(inside) > 1:
            shown, name = ", ".join(list(inside)[:5]), f"HL {level.number}"
            self.log.list(
                level.segment,
                name,
                message("its goods go to several stores ({stores}); it is listed for the first", stores=shown),
            )
        return _store(next(iter(inside.values())))

    def _place_references(self) -> None:
        """References of orders that hold no package, or stand in a mere grouping, are the shipment's."""
        held = {id(package.references) for package in self.notice.packages if package.is_box}
        held.update(id(one) for package, several in self.taken if package.is_box for one in several)
        for references in self.order_references:
            for name, value in references if id(references) not in held else ():
                self.refer(name, value)

    def _check_lading(self) -> None:
        """TD102 counts packages: compare it with those that the notice lists below its level."""
        declared: dict[tuple[int, bool], float] = {}
        packages = list(self._packages()) if self.lading else []
        for segment, level in self.lading:
            pallets = segment.at(1)[:3] in codes.X12_PALLETS
            key = (id(level), pallets)
            declared[key] = declared.get(key, 0) + (parse_number(segment.at(2)) or 0)
        for segment, level in self.lading:
            pallets = segment.at(1)[:3] in codes.X12_PALLETS
            count = declared.pop((id(level), pallets), 0)
            inside = [p for at, p in packages if level.code == "S" or any(up is level for up in at.up())]
            listed = sum(max(1, len(p.ssccs)) for p in inside if p.holds_packages == pallets)
            if count and count != listed and (listed or not pallets):
                values = {"count": float(count), "listed": listed}
                stated = message("TD1 counts {count} packages, the notice lists {listed}", **values)
                if kind := segment.at(1):
                    stated = message(
                        "TD1 counts {count} packages ({kind}), the notice lists {listed}", kind=kind, **values
                    )
                self.log.warn(segment.number, "TD1", stated)


def _is_shared_below(level: Level, line: NoticeLine) -> bool:
    """Its packs hold the goods of its line, also where each of them names the same item again."""
    packs = level.packs_below or []
    return any(not (pack.line and pack.line.ids) or pack.line.ids[:1] == line.ids[:1] for pack in packs)


def _is_named_above(level: Level) -> bool:
    """A pack that names no item itself, below an item that does: the item's goods are shared among its packs."""
    line = level.line
    if line is None or line.ids or level.package is None:
        return False
    return any(up.line and up.line.ids for up in level.up() if up is not level)


def _holds_goods_of(pack: Level, item: Level) -> bool:
    """True where a pack holds goods of this item: it names none itself, and this is the next item above it."""
    if pack.package is None or pack.package.holds_packages or (pack.line and pack.line.ids):
        return False
    return next(up for up in pack.up() if up is not pack and up.line) is item


def _share(total: float, stated: float, packs: int) -> str:
    rest = total - stated
    return f"{rest / packs:g}" if rest > 0 and rest % packs == 0 else ""


def _store(level: Level, *, use: bool = True) -> str:
    order = codes.X12_SHIPMENT_STORE_PARTIES if level.code == "S" else codes.X12_STORE_PARTIES
    parties = level.parties or {}
    party = next((parties[role] for role in order if role in parties), None)
    if party is None:
        return ""
    if use:
        party.use(*((1, 3, 4) if party.at(4) else (1, 2)))
    return party.at(4) or party.at(2)

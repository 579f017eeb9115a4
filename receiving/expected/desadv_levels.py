"""The CPS tree of one EDIFACT DESADV: which goods lie in which package, for which store, in which outer box."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from receiving.expected import edi_codes as codes
from receiving.expected.edi import DEEPEST, EdiLog, Segment, check_notice_size, count_all
from receiving.expected.edi_codes import kilograms, parse_number
from receiving.expected.notice import MOST_IN_FILE, MOST_UNNUMBERED, Notice, NoticeLine, Package
from receiving.messages import Message, figure, message, plural

_NO_NUMBER = message("these packages are declared and no number is given for them; count them by hand")


@dataclass(slots=True)
class PackGroup:
    """One PAC with its marks: how many packages it declares, what they weigh, and the numbers given for them.

    ``labels`` name packages where no SSCC does; ``marks`` are further numbers of the package; ``totals`` are the
    segments that weigh all of them together, until it is known how many they are.
    """

    segment: int
    count: str = ""
    package_type: str = ""
    ssccs: list[str] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    weight_kg: float | None = None
    sizes_cm: dict[str, float] = field(default_factory=dict)
    totals: list[Segment] = field(default_factory=list)

    @property
    def numbers(self) -> list[str]:
        """The numbers that tell its packages apart."""
        return self.ssccs or self.labels

    @property
    def size(self) -> float:
        """How many packages it stands for."""
        return max(len(self.numbers), parse_number(self.count) or 1)

    @property
    def is_numbered(self) -> bool:
        """A label of its packages shows some number."""
        return bool(self.ssccs or self.labels or self.marks)


@dataclass(slots=True)
class LinePack:
    """A PCI inside of a line of goods: the packages that this line's goods are in, and how many of them."""

    group: PackGroup
    qty: str = ""


@dataclass(slots=True)
class PackLevel:
    """One CPS with its pack groups and its goods; a line with packages of its own stands in ``packed`` too."""

    segment: int
    name: str
    parent: "PackLevel | None"
    groups: list[PackGroup] = field(default_factory=list)
    lines: list[NoticeLine] = field(default_factory=list)
    packed: list[tuple[NoticeLine, list[LinePack]]] = field(default_factory=list)
    stores: dict[str, Segment] = field(default_factory=dict)
    general: PackGroup = field(default_factory=lambda: PackGroup(0))
    has_children: bool = False
    depth: int = 1
    packages: list[Package] = field(default_factory=list)

    def up(self) -> "Iterator[PackLevel]":
        """This level and those above it."""
        level: PackLevel | None = self
        while level is not None:
            yield level
            level = level.parent


@dataclass
class Despatch:
    """One message: its packing levels as they are read, and its notice when all are.

    ``level_of`` is the level of each package, by its id; ``named`` are the segments that name a package's store, by its
    id, until it is known which hold others.
    """

    segment: int
    log: EdiLog
    notice: Notice = field(init=False)
    levels: list[PackLevel] = field(default_factory=list)
    by_name: dict[str, PackLevel] = field(default_factory=dict)
    parties: dict[str, Segment] = field(default_factory=dict)
    line: NoticeLine | None = None
    references: dict[tuple[str, str], None] = field(default_factory=dict)
    by_number: dict[str, Package] = field(default_factory=dict)
    level_of: dict[int, PackLevel] = field(default_factory=dict)
    named: dict[int, Segment] = field(default_factory=dict)
    line_count: int = 0
    group_count: int = 0
    named_again: int = 0
    units: float = 0
    package_counts: list[Segment] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.notice = Notice(self.segment)

    @property
    def level(self) -> PackLevel | None:
        """The packing level that is being read."""
        return self.levels[-1] if self.levels else None

    def add(self, level: PackLevel) -> None:
        """Start a level; a tree deeper than any real packing is cut off at its depth, so that walks stay short."""
        if level.parent is not None and level.parent.depth >= DEEPEST:
            self.log.warn(level.segment, "CPS", message("levels are nested deeper than {deepest}", deepest=DEEPEST))
            level.parent = level.parent.parent
        if level.parent is not None:
            level.depth = level.parent.depth + 1
            level.parent.has_children = True
        check_notice_size(len(self.levels), self.log, level.segment, "CPS")
        self.levels.append(level)
        self.by_name[level.name] = level
        self.line = None

    def in_level(self, number: int) -> PackLevel:
        """The level that is being read; goods before the first CPS get a level of their own."""
        if self.level is None:
            self.add(PackLevel(number, "0", None))
        return self.levels[-1]

    def line_packs(self) -> list[LinePack] | None:
        """The packages of the line of goods that is being read; None where it has none of its own."""
        packed = self.levels[-1].packed if self.levels else []
        return packed[-1][1] if packed and packed[-1][0] is self.line else None

    def group(self, number: int) -> PackGroup:
        """The packages that a mark belongs to: those of the line of goods, or those of the last PAC."""
        level = self.in_level(number)
        if self.line is not None:
            packs = self.line_packs()
            if packs is None:
                packs = [LinePack(PackGroup(number))]
                level.packed.append((self.line, packs))
            return packs[-1].group
        if not level.groups:
            level.groups.append(PackGroup(number))
        return level.groups[-1]

    def done(self) -> Notice:
        """The notice, once all segments were taken."""
        notice = self.notice
        if not notice.shipment:
            self.log.warn(self.segment, "BGM", message("the notice gives no document number (BGM, C106/1004)"))
        for level in self.levels:
            self._packages(level)
        packed = [self._take_packed(level) for level in self.levels]
        for level, named in zip(self.levels, packed, strict=True):
            self._place_lines(level, named)
        self._place_stores()
        self._check_totals()
        self._check_package_count()
        notice.references = list(self.references)
        count_all((*self.parties.values(), *(s for level in self.levels for s in level.stores.values())), self.log)
        return notice

    def _place_stores(self) -> None:
        """The store of the notice, where a package names none itself; an outer box goes with what it holds."""
        goods = [package for package in self.notice.packages if not package.holds_packages]
        for package in goods:
            if party := self.named.get(id(package)):
                _use_party(party)
        if not goods or any(not package.store for package in goods):
            party = next((self.parties[role] for role in codes.STORE_PARTIES if role in self.parties), None)
            if party:
                self.notice.store = _who(party)
                _use_party(party)

    def _packages(self, level: PackLevel) -> None:
        numbered = [group for group in level.groups if group.is_numbered]
        self._place_totals(level)
        self._share_measures(level, numbered)
        for group in numbered:
            self._numbered(level, group)
        self._say_unnumbered(level, numbered)
        self._say_stores(level)
        own = any(pack.group.is_numbered for _, packs in level.packed for pack in packs)
        if not numbered and not level.has_children and not own:
            self._unnumbered(level)
        for package in level.packages:
            package.shared = len(level.packages)

    def _place_totals(self, level: PackLevel) -> None:
        """The weight of all packages together is that of one where there is only one."""
        of_level = sum(group.size for group in level.groups)
        for group, size in [(level.general, of_level), *((group, group.size) for group in level.groups)]:
            for segment in group.totals:
                if size <= 1 and group.weight_kg is None:
                    group.weight_kg = kilograms(segment.at(3, 1), segment.at(3))
                    segment.use(1, 2, 3)
            count_all(group.totals, self.log)

    def _share_measures(self, level: PackLevel, numbered: list[PackGroup]) -> None:
        """A PAC that neither counts nor numbers its packages says more of the same; measures of others are named."""
        for group in level.groups if numbered else ():
            if group.is_numbered or not (group.weight_kg or group.sizes_cm):
                continue
            if len(numbered) == 1 and not group.count:
                numbered[0].weight_kg = numbered[0].weight_kg or group.weight_kg
                numbered[0].sizes_cm = {**group.sizes_cm, **numbered[0].sizes_cm}
            else:
                stated = message("measures of packages inside, which are not listed one by one, were not used")
                shown = message("{weight} kg", weight=float(group.weight_kg)) if group.weight_kg else message("sizes")
                self.log.warn(group.segment, "MEA", stated, shown)

    def _numbered(self, level: PackLevel, group: PackGroup) -> None:
        """A package for each number."""
        self._say_unclear(group)
        for at in range(len(group.numbers) or 1):
            package = self._package(level, group, f"CPS {level.name}")
            self._number(package, group, at)

    def _number(self, package: Package, group: PackGroup, at: int) -> None:
        """The numbers of one package of its group; a label number for each SSCC belongs to it."""
        alone, labels = len(group.numbers) <= 1, group.labels
        package.ssccs = group.ssccs[at : at + 1]
        own = labels if alone else labels[at : at + 1] if len(labels) == len(group.numbers) else []
        package.marks = list(dict.fromkeys((*own, *(group.marks if alone else ()))))
        self.by_number.update((number, package) for number in (*package.ssccs, *package.marks))

    def _say_unclear(self, group: PackGroup) -> None:
        """Numbers of a group of packages that do not say on which of them they are."""
        unclear = [*(group.labels if len(group.labels) != len(group.numbers) else ()), *group.marks]
        if unclear and len(group.numbers) > 1:
            stated = message("numbers do not say on which of several packages they are, and were not used")
            self.log.warn(group.segment, "PCI", stated, ", ".join(unclear))

    def _package(self, level: PackLevel, group: PackGroup, fallback: str) -> Package:
        general = level.general
        package = Package(group.segment or level.segment, fallback, outer=self._outer(level))
        party = next((next(iter(up.stores.values())) for up in level.up() if up.stores), None)
        if party:
            package.store, self.named[id(package)] = _who(party), party
        package.weight_kg = group.weight_kg or general.weight_kg
        sizes = {**general.sizes_cm, **group.sizes_cm}
        package.length_cm, package.width_cm, package.height_cm = sizes.get("LN"), sizes.get("WD"), sizes.get("HT")
        package.lines = level.lines
        level.packages.append(package)
        self.level_of[id(package)] = level
        self.notice.packages.append(package)
        return package

    def _outer(self, level: PackLevel) -> Package | None:
        around = next((up.packages for up in level.up() if up is not level and up.packages), [])
        if len(around) > 1:
            stated = message("levels lie in one of several packages; it is not said in which")
            self.log.warn(
                level.segment, "CPS", stated, message("CPS {name} in {number}", name=level.name, number=len(around))
            )
        if len(around) != 1:
            return None
        around[0].holds_packages = True
        return around[0]

    def _say_stores(self, level: PackLevel) -> None:
        if len(level.stores) > 1:
            shown = ", ".join(list(level.stores)[:5])
            stated = message(
                "its goods go to {number} places of delivery ({stores}); it is listed for the first",
                number=len(level.stores),
                stores=shown,
            )
            self.log.list(level.segment, f"CPS {level.name}", stated)

    def _take_packed(self, level: PackLevel) -> list[tuple[NoticeLine, list[LinePack]]]:
        """Take the goods that name packages out of those of the whole level; gives them with the packages."""
        named = [(line, [pack for pack in packs if pack.group.is_numbered]) for line, packs in level.packed]
        named = [(line, packs) for line, packs in named if packs]
        placed = {id(line) for line, _ in named}
        level.lines[:] = [line for line in level.lines if id(line) not in placed]
        return named

    def _place_lines(self, level: PackLevel, named: list[tuple[NoticeLine, list[LinePack]]]) -> None:
        """Goods go into the packages that they name, else those of their level, else those around it."""
        shared = any(package.lines is level.lines for package in level.packages)
        for line, packs in named:
            self._place_packed(level, line, packs)
        holder = next((up for up in level.up() if up.packages), None)
        if holder is None or (holder is level and not shared):
            self.notice.loose += level.lines
        elif holder is not level:
            holder.lines += level.lines

    def _place_packed(self, level: PackLevel, line: NoticeLine, packs: list[LinePack]) -> None:
        """Put a line into the packages that it names itself; those without a quantity share what is left."""
        open_count = sum(len(pack.group.numbers) or 1 for pack in packs if not pack.qty)
        left = (parse_number(line.qty) or 0) - sum(parse_number(pack.qty) or 0 for pack in packs)
        each = f"{left / open_count:g}" if open_count and left > 0 and left % open_count == 0 else ""
        for pack in packs:
            count, qty = len(pack.group.numbers) or 1, parse_number(pack.qty) or 0
            share = (f"{qty / count:g}" if qty % count == 0 else "") if pack.qty else each
            self._say_unclear(pack.group)
            for at in range(count):
                made = NoticeLine(line.segment, line.ids, line.description, share, line.unit)
                self._own_package(level, pack.group, at).lines.append(made)

    def _own_package(self, level: PackLevel, group: PackGroup, at: int) -> Package:
        """The package with this number, known from its PAC or another line, or a new one with goods of its own."""
        number = group.numbers[at] if group.numbers else next(iter(group.marks), "")
        found = self.by_number.get(number)
        if found is None:
            found = self._package(level, group, f"CPS {level.name}")
            self._number(found, group, at)
            found.lines, found.shared = [], 1
        elif found.lines is (general := self.level_of[id(found)].lines):
            self.named_again += len(general)  # each such package gets the goods that may be in any of its level
            check_notice_size(self.named_again, self.log, level.segment, "CPS")
            unclear = found.shared > 1
            found.lines, found.shared = [replace(line, qty="") if unclear else line for line in general], 1
        return found

    def _unnumbered(self, level: PackLevel) -> None:
        """Packages that no number is given for are cartons all the same; they must not be lost."""
        counted = [(int(n), group) for group in level.groups if (n := parse_number(group.count)) and n >= 1]
        if not level.groups:
            return
        count, group = counted[0] if counted else (1, level.groups[0])
        if count > min(MOST_UNNUMBERED, MOST_IN_FILE - self.log.counted_out):
            stated = message(
                "PAC declares {number} packages without a number: too many to be listed one by one",
                number=figure(count),
            )
            self.log.list(level.segment, f"CPS {level.name}", stated)
            count = 1
        self.log.counted_out += count if counted else 0
        for n in range(1, count + 1):
            self._package(
                level,
                group,
                f"CPS {level.name}" if count == 1 else f"CPS {level.name}-{n}",
            )

    def _say_unnumbered(self, level: PackLevel, numbered: list[PackGroup]) -> None:
        for group in level.groups:
            declared, given = parse_number(group.count) or 0, len(group.numbers) or len(group.marks[:1])
            if given and declared and declared != given:
                stated = message("what PAC declares differs from the numbers given for its packages")
                self.log.warn(
                    group.segment,
                    "PAC",
                    stated,
                    message(
                        "{declared} and {given} at CPS {name}", declared=float(declared), given=given, name=level.name
                    ),
                )
                if declared > given:
                    self.log.list(
                        group.segment,
                        plural(
                            int(declared - given),
                            "{number} package of CPS {name}",
                            "{number} packages of CPS {name}",
                            name=level.name,
                        ),
                        _NO_NUMBER,
                    )
            elif numbered and not given and declared:
                stated = message("packages inside have no number of their own; they are not listed one by one")
                self.log.warn(group.segment, "PAC", stated, _typed(declared, group.package_type))

    def _check_totals(self) -> None:
        """A level that only counts what its lower levels list must count right: all, the inner, or the next ones."""
        totals = {id(level): 0 for level in self.levels}
        innermost, nearest = dict(totals), dict(totals)
        for level in self.levels:
            counted, open_above = len(level.packages), True
            for up in level.up():
                if up is not level:
                    totals[id(up)] += counted
                    innermost[id(up)] += sum(not package.holds_packages for package in level.packages)
                    nearest[id(up)] += counted if open_above else 0
                    open_above = open_above and not up.packages
        for level in self.levels:
            declared = next((parse_number(group.count) for group in level.groups if not level.packages), None)
            right = (totals[id(level)], innermost[id(level)], nearest[id(level)])
            if level.has_children and declared and declared not in right:
                stated = message("what PAC declares differs from the packages that the levels below list")
                self.log.warn(
                    level.segment,
                    "PAC",
                    stated,
                    message("{declared} and {totals}", declared=float(declared), totals=totals[id(level)]),
                )

    def _check_package_count(self) -> None:
        """CNT+11 counts all packages, or the outer or the inner ones alone; which is not said."""
        packages = [package for package in self.notice.packages if package.is_box]
        outer = sum(package.holds_packages for package in packages)
        loose = sum(package.box_around is None for package in packages)
        for segment in self.package_counts:
            count = parse_number(segment.at(1, 1))
            if count not in (len(packages), len(packages) - outer, loose):
                self.log.warn(segment.number, "CNT", _miscounted(segment.at(1, 1), len(packages), outer))
            segment.use(1)
        count_all(self.package_counts, self.log)


def _typed(count: float, package_type: str) -> Message:
    if not package_type:
        return message("{number} (no type)", number=float(count))
    return message("{number} ({type})", number=float(count), type=package_type)


def _miscounted(stated: str, listed: int, outer: int) -> Message:
    if not outer:
        return message("CNT+11 counts {stated} packages, the message lists {listed}", stated=stated, listed=listed)
    return plural(
        outer,
        "CNT+11 counts {stated} packages, the message lists {listed} ({number} that holds others)",
        "CNT+11 counts {stated} packages, the message lists {listed} ({number} that hold others)",
        stated=stated,
        listed=listed,
    )


def _who(party: Segment) -> str:
    """The place that a NAD or LOC names."""
    return party.at(_place_of_name(party))


def _use_party(party: Segment) -> None:
    party.use(1, _place_of_name(party))


def _place_of_name(party: Segment) -> int:
    return 2 if party.tag == "LOC" or party.at(2) else 4 if party.at(4) else 3

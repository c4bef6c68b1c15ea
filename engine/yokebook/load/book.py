"""Loading a rulebook: every file of its folders, every fault of every file, then one Book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from yokebook import shipped
from yokebook.load import words
from yokebook.load.calculations import CalculationFiles
from yokebook.load.edition_files import EditionFolder
from yokebook.load.facts import FactFiles
from yokebook.load.faults import Fault, RulebookFaults
from yokebook.load.files import read_file
from yokebook.load.nodes import MappingNode, Node, Scalar
from yokebook.load.places import PlaceReader
from yokebook.load.scope import Scope
from yokebook.load.words import DocumentFile
from yokebook.model import At, Book, Document, Edition, Place, Question, Reading

#: Folders of a rulebook that hold one kind of file each, places and cases in folders below them too.
KINDS = ("questions", "facts", "calculations", "readings", "documents", "places", "cases")
CAUTIONS = "cautions.yaml"


def load_book(
    root: Path | None = None, *, check_schema: bool | None = None, drafts: Sequence[Path] = ()
) -> Book:
    """The rulebook in the folder `root`, or the shipped one.

    `check_schema` holds every file against its JSON Schema and makes every edition and layer, to find what only shows
    there. It is on for a folder of one's own; the shipped rulebook is held against them in the tests instead.

    `drafts` are files of places that stand elsewhere and are read beside the rulebook's own. Each is the place that its
    `place:` names: it stands in for the rulebook's file of that place, which is not read, or is a new place. Drafts are
    always held against the schema; their faults name the file as it is given here.

    Raises RulebookFaults with every fault of every file.
    """
    own = root is not None
    folder = root if root is not None else shipped.folder("rulebook")
    name = str(root) if own else folder.name
    if not folder.is_dir():
        raise RulebookFaults([Fault(At(name, 1, 1), "there is no such folder; a rulebook is a folder of YAML files")])
    loader = _Loader(folder, name)
    loader.read_drafts(drafts)
    loader.read_files()
    check_all = own if check_schema is None else check_schema
    if check_all or drafts:
        from yokebook.load.schema_check import check, schema_faults

        book = loader.build()
        loader.faults.extend(schema_faults(loader.claimed()) if check_all else ())
        loader.faults.extend(fault for node in loader.drafts.values() for fault in check(node, "place"))
        loader.faults = _once(loader.faults)
        loader.faults.extend(_whole_faults(book, {fault_file(fault) for fault in loader.faults}))
    else:
        book = loader.build()
        loader.faults = _once(loader.faults)
    if loader.faults:
        raise RulebookFaults(loader.faults)
    return book


def fault_file(fault: Fault) -> str:
    """The file that a fault is in."""
    return fault.at.file if isinstance(fault.at, At) else fault.at


def _once(faults: list[Fault]) -> list[Fault]:
    """The first fault of each place in a file: a second one there is the same slip seen by another check."""
    first: dict[At | str, Fault] = {}
    for fault in faults:
        first.setdefault(fault.at, fault)
    return list(first.values())


def _whole_faults(book: Book, unclean: set[str]) -> list[Fault]:
    """What shows only when names are followed and editions and layers made. Files with faults of their own, and what
    is made from them, are left out: what is said of them would only follow from those faults."""
    from yokebook.editions import edition_faults
    from yokebook.layers import layer_faults
    from yokebook.load.cycles import cycle_faults
    from yokebook.place_checks import place_faults

    bad_documents = {
        document
        for document in book.documents
        for file in unclean
        if any(file.startswith(f"{_folder_of(edition)}/") for edition in _editions_of(book, document))
    }
    clean = {key: edition for key, edition in book.editions.items() if key[0] not in bad_documents}
    faults = edition_faults(replace(book, editions=clean))
    faults.extend(place_faults(book))
    if not faults and not unclean:
        faults.extend(cycle_faults(book))
        faults.extend(layer_faults(book, drafts_allowed=True))
    return [fault for fault in faults if fault_file(fault) not in unclean]


def _editions_of(book: Book, document: str) -> list[Edition]:
    return [edition for (its, _), edition in book.editions.items() if its == document]


def _folder_of(edition: Edition) -> str:
    return edition.at.file.rpartition("/")[0]


class _Loader:
    """One load: nodes by path below the root, and the faults found so far."""

    def __init__(self, root: Path, name: str) -> None:
        self.root = root
        self.name = name.rstrip("/")
        self.faults: list[Fault] = []
        self.nodes: dict[str, Node] = {}
        self.drafts: dict[str, Node] = {}  # by the place's id
        self.scope = Scope()
        self._claimed: set[str] = set()
        self._unreadable: set[str] = set()

    def read_drafts(self, paths: Sequence[Path]) -> None:
        """Reads files of places that stand elsewhere."""
        for path in paths:
            node = read_file(path, str(path), self.faults)
            if node is None:
                continue
            named = node.get("place") if isinstance(node, MappingNode) else None
            if not isinstance(named, Scalar) or named.is_null or not named.text:
                found = "a draft of a place says which place it is: `place:` with the place's id is missing"
                self.faults.append(Fault(node.at, found))
            elif named.text in self.drafts:
                other = self.drafts[named.text].file
                found = f"`{named.text}` is also the place of {other}; allowed: one draft for each place"
                self.faults.append(Fault(named.at, found))
            else:
                self.drafts[named.text] = node

    def read_files(self) -> None:
        """Reads every YAML file of the folder, but for the places that a draft stands in for."""
        drafted = {f"places/{place}.yaml" for place in self.drafts}
        for path in sorted(self.root.rglob("*")):
            relative = path.relative_to(self.root).as_posix()
            if relative in drafted:
                continue
            if path.suffix == ".yml" and path.is_file():
                self._fault_of(relative, "a rulebook's files end in `.yaml`")
            if path.suffix != ".yaml" or not path.is_file():
                continue
            node = read_file(path, f"{self.name}/{relative}", self.faults)
            if node is None:
                self._unreadable.add(relative)
            else:
                self.nodes[relative] = node

    def _fault_of(self, relative: str, message: str) -> None:
        self.faults.append(Fault(At(f"{self.name}/{relative}", 1, 1), message))

    def _files(self, kind: str) -> dict[str, Node]:
        """The files of a folder and the folders below it, by path below the folder."""
        found = {path: node for path, node in self.nodes.items() if path.startswith(f"{kind}/")}
        self._claimed.update(found)
        return {path.removeprefix(f"{kind}/"): node for path, node in found.items()}

    def build(self) -> Book:
        """The book as far as it can be made; it may be used only if no fault was noted."""
        scope = self.scope
        documents: dict[str, DocumentFile] = {}
        for node in self._files("documents").values():
            words.read_each(node, "documents", "document", self.faults, documents, words.document)
        scope.document_ids = frozenset(documents)
        scope.kinds_of_document = frozenset(each.document.kind for each in documents.values())
        scope.questions = self._questions()
        scope.readings = self._readings(documents)
        facts, calculations = FactFiles(scope, self.faults), CalculationFiles(scope, self.faults)
        for node in self._files("facts").values():
            facts.read(node)
        for node in self._files("calculations").values():
            calculations.read(node)
        folders = self._edition_folders(documents)
        for folder in folders:
            folder.read_values()
        all_facts, impossible = facts.finish()
        all_calculations = calculations.finish()
        made = [edition for folder in folders if (edition := folder.read()) is not None]
        places = self._places()
        self._files("cases")
        cautions = self._cautions()
        self._unclaimed()
        return Book(
            root=str(self.root),
            questions=scope.questions,
            facts=all_facts,
            impossible=impossible,
            calculations=all_calculations,
            readings=scope.readings,
            documents=_documents(documents),
            editions={(edition.document, edition.edition): edition for edition in made},
            places=places,
            cautions=cautions,
        )

    def _questions(self) -> dict[str, Question]:
        found: dict[str, Question] = {}
        for node in self._files("questions").values():
            words.read_each(node, "questions", "question", self.faults, found, words.question)
        return found

    def _readings(self, documents: Mapping[str, DocumentFile]) -> dict[str, Reading]:
        found: dict[str, Reading] = {}
        for node in self._files("readings").values():
            words.read_each(node, "readings", "reading", self.faults, found, words.reading(documents))
        return found

    def _edition_folders(self, documents: Mapping[str, DocumentFile]) -> list[EditionFolder]:
        folders: list[EditionFolder] = []
        for each in documents.values():
            for edition in each.document.editions:
                folder = f"{each.folder}/{edition}"
                files = self._files(folder)
                if files:
                    name = f"{self.name}/{folder}"
                    folders.append(EditionFolder(each.document.id, edition, files, name, self.scope, self.faults))
        return folders

    def _places(self) -> dict[str, Place]:
        reader = PlaceReader(self.scope, self.faults)
        found: dict[str, Place] = {}
        for path, node in self._files("places").items():
            place = reader.place(node, path.removesuffix(".yaml"))
            if place is not None:
                found[place.id] = place
        for name, node in self.drafts.items():
            place = reader.place(node, name)
            if place is not None:
                found[place.id] = place
        return found

    def _cautions(self) -> tuple[str, ...]:
        node = self.nodes.get(CAUTIONS)
        self._claimed.add(CAUTIONS)
        if node is None:
            if CAUTIONS not in self._unreadable:
                self._fault_of(CAUTIONS, "the rulebook has no such file; it lists the cautions on every output")
            return ()
        return words.cautions(node, self.faults)

    def claimed(self) -> dict[str, Node]:
        """The files that something reads."""
        return {path: node for path, node in self.nodes.items() if path in self._claimed}

    def _unclaimed(self) -> None:
        for path, node in self.nodes.items():
            if path not in self._claimed:
                self.faults.append(
                    Fault(
                        node.at,
                        "nothing reads this file: no document has an edition in this folder, and it is in none "
                        f"of {', '.join(f'`{kind}/`' for kind in KINDS)}",
                    )
                )


def _documents(files: Mapping[str, DocumentFile]) -> dict[str, Document]:
    return {name: each.document for name, each in files.items()}

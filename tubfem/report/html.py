"""report.html: one page that holds everything, opens from disk and asks the network for nothing."""

import base64
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from tubfem.findings.results import Findings
from tubfem.report import chart, joint_page, numbers, review
from tubfem.report.cautions import STANDING
from tubfem.report.look import look_words
from tubfem.report.measures import MEASURES, OF_UNIT
from tubfem.report.prose import pieces
from tubfem.report.road_words import factor_text, felt_words, members_by_side
from tubfem.report.scene import scene
from tubfem.report.study_plots import plots
from tubfem.report.what_if import fits
from tubfem.tub.model import TubModel

STUDIES = ("compare", "next_ply", "schedule", "spread", "refine")
SCRIPTS = ("three.min.js", "page.js", "view.js")
TRYING = ("laminate.js", "uses.js", "what_if.js", "try.js")  # only with a reduced model
JOINTS_SHOWN, HINGES, WEAKEST = 12, 4, 4  # in the first table, in the answer; the rest follow in depth
STUDY_KINDS = {"_Nm_per_deg": "stiffness", "mass": "mass", "mass_added": "mass", "per_kg": "per_mass", "size": "length"}
STROKES = ("curve", "hand", "third", "fourth", "fifth", "sixth")  # of the curves in one drawing
BY_NAME = ("regions", "others")  # tables with a row for each name, too many for columns
IN_FILE = ("path", "position")  # columns that only widen a table
LONG = 40  # rows: a longer table of a study is folded away
SIDES = r"\.(left|right)(?=/|\.\d+$|$)"  # of the parts of a joint's name
TEMPLATES = files("tubfem.report") / "templates"


def get_ready() -> None:
    """Compile the page's template, so that writing the page need not."""
    _environment().get_template("report.html")


def write_report(
    path: Path,
    model: TubModel,
    contents: Mapping[str, Any],
    findings: Findings | None = None,
    *,
    beside: Path | None = None,
    texts: list[tuple[str, str]] | None = None,
) -> None:
    """Write the page of a run, or without findings that of a look.

    Parameters
    ----------
    contents : what results.json holds; of a look `json_file.about`
    beside : folder whose studies are shown; a reduced model there, if of the same case, lets plies be tried in the page
    texts : the case's files by name, as they were when it was run; read again by default
    """
    found = {} if beside is None else _found(beside)
    path.write_text(page(model, contents, findings, texts=texts, **found), encoding="utf-8")


def page(
    model: TubModel,
    contents: Mapping[str, Any],
    findings: Findings | None = None,
    *,
    studies: Mapping[str, Any] | None = None,
    what_if: Mapping[str, Any] | None = None,
    texts: list[tuple[str, str]] | None = None,
) -> str:
    """The page as text; arguments as `write_report`, with what lies beside it already read."""
    style = _part("page.css")
    tried = what_if if findings is not None and fits(what_if, contents) else None
    scripts = [_part(name) for name in (*SCRIPTS, *(TRYING if tried else ()))]
    data = {"measures": {name: asdict(measure) for name, measure in MEASURES.items()}, "scene": scene(model, findings)}
    data |= {"summary": _summary(contents), "what_if": tried}
    read = review.as_read(model.case)
    return (
        _environment()
        .get_template("report.html")
        .render(
            policy=_policy(style, scripts),
            style=Markup(style),
            scripts=[Markup(script) for script in scripts],
            data=Markup(_safe_json(data)),
            standing=STANDING,
            r=contents,
            findings=findings,
            twisted=findings is not None and any(case.torsion for case in findings.load_cases.values()),
            wheeled=findings is not None and any(case.road for case in findings.load_cases.values()),
            sentences=_sentences(contents),
            title=model.case.title or contents["case"]["path"],
            look=look_words(model),
            shown_joints=JOINTS_SHOWN,
            chart=chart,
            review=review,
            files=review.file_texts(model.case) if texts is None else texts,
            read=read,
            loads=review.loads(read),
            sheets=review.material_sheets(model.case),
            versions=contents.get("computed_by") or review.versions(contents["tubfem_version"]),
            past=contents.get("since"),
            tried=tried,
            studies={name: _study(found) | {"plots": plots(name, found)} for name, found in (studies or {}).items()},
            strokes=STROKES,
            long=LONG,
        )
    )


def _summary(contents: Mapping[str, Any]) -> dict[str, Any]:
    """What the 3-D view tells of a whole region."""
    if "load_cases" not in contents:
        return {"regions": {}, "load_cases": {}}
    cases = contents["load_cases"]
    return {
        "regions": {
            name: {"mass": found["mass"], "area": found["area"]}
            for case in cases.values()
            for name, found in case["regions"].items()
        },
        "load_cases": {
            name: {
                region: {"share": found["strain_energy_share"], "worst": found["worst"]}
                for region, found in case["regions"].items()
            }
            for name, case in cases.items()
        },
    }


def _found(folder: Path) -> dict[str, Any]:
    """Studies and reduced model of a folder, as `page` takes them; what is not there, or no JSON, is left out."""
    found = {}
    for name in ("what_if", *STUDIES):
        try:
            found[name] = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
    return {"what_if": found.pop("what_if", None), "studies": found}


def _study(found: Mapping[str, Any]) -> dict[str, Any]:
    """A study's file as single values and tables, whatever its keys: (name, value), (name, headings, rows)."""
    singles: list[tuple[str, Any]] = []
    tables = []
    for name, value in found.items():
        if isinstance(value, list) and value and all(isinstance(row, Mapping) for row in value):
            rows = [dict(_flat(row)) for row in value]
            keys = list(dict.fromkeys(key for row in rows for key in row))
            kept = [key for key in keys if any(row.get(key) not in (None, "") for row in rows)]
            kept = [key for key in kept if key.rpartition(", ")[2] not in IN_FILE]
            tables.append((name, kept, [[row.get(key) for key in kept] for row in rows]))
        else:
            singles += _flat({name: value})
    return {"singles": singles, "tables": tables}


def _flat(value: Mapping[str, Any], before: str = "") -> list[tuple[str, Any]]:
    """Leaves of nested tables; curves, long lists and tables by region stay in the file."""
    rows: list[tuple[str, Any]] = []
    for name, item in value.items():
        if isinstance(item, Mapping) and name not in BY_NAME:
            rows += _flat(item, f"{before}{name}, ")
        elif isinstance(item, list) and not any(isinstance(one, Mapping) for one in item):
            if len(item) > LONG:
                continue
            rows.append((f"{before}{name}", "; ".join(shown(one) for one in item)))
        elif not isinstance(item, Mapping | list):
            rows.append((f"{before}{name}", item))
    return rows


def _study_heading(key: str) -> Markup:
    """The key of a study's column as words, with its unit."""
    words = key.removeprefix("load_cases, ")
    for suffix in STUDY_KINDS:
        words = words.removesuffix(suffix) if suffix.startswith("_") else words
    kind = _study_kind(key)
    unit = "%" if key.endswith("_percent") else "" if kind is None else MEASURES[kind].unit
    text = words.removesuffix("_percent").replace("_", " ")
    if kind is None or not unit:
        return Markup("{}{}").format(text, f", {unit}" if unit else "")
    return Markup('{}, <span data-unit-of="{}">{}</span>').format(text, kind, unit)


def _study_cell(value: Any, key: str) -> Any:
    kind = _study_kind(key)
    if isinstance(value, int | float) and not isinstance(value, bool):
        if kind is not None:
            return _number(value, kind)
        if "margin" in key and "error" not in key:
            return numbers.margin(value)
    return shown(value)


def _study_kind(key: str) -> str | None:
    return next((kind for suffix, kind in STUDY_KINDS.items() if key.endswith(suffix)), None)


def shown(value: Any) -> str:
    """A value of a study as text: three digits for a number, yes or no, a dash for nothing."""
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return numbers.three(value)
    return str(value)


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_part), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True
    )
    environment.filters |= {
        "q": _quantity,
        "n": _number,
        "u": _unit,
        "t": _drawn_number,
        "tu": _drawn_unit,
        "weakest": _weakest,
        "by_share": _by_share,
        "hinges": _hinges,
        "judged": joint_page.judged,
        "main_axis": joint_page.main_axis,
        "pull_tests": joint_page.pull_tests,
        "twist_parts": joint_page.twist_parts,
        "study_heading": _study_heading,
        "study_cell": _study_cell,
        "felt": felt_words,
        "factor_text": lambda factor: factor_text(factor.name, factor.value),
        "members_by_side": members_by_side,
        "last_shown": lambda row: (row[0], shown(row[1])),
        "prose": _prose,
        "margin": numbers.margin,
        "percent": numbers.percent,
        "three": numbers.three,
        "shown": shown,
        "demand": lambda worst, key: _quantity(worst[key], OF_UNIT[worst["unit"]]),
        "place": lambda position: Markup(", ").join(_number(c, "length", whole=True) for c in position),
    }
    return environment


def _quantity(value: float | None, kind: str) -> Markup:
    """A number with its unit; the page's script turns it into inch-pound units."""
    return _data(value, kind, unit=True)


def _number(value: float | None, kind: str, whole: bool = False) -> Markup:
    """A number whose unit stands in the heading."""
    return _data(value, kind, unit=False, whole=whole)


def _data(value: float | None, kind: str, *, unit: bool, whole: bool = False) -> Markup:
    if value is None:
        return Markup("–")
    measure = MEASURES[kind]
    scaled = value * measure.factor
    text = f"{round(scaled) + 0:d}" if whole else numbers.three(scaled)
    name = f" {measure.unit}" if unit and measure.unit else ""
    flag = Markup(' data-unit="1"') if unit else Markup("")
    flag += Markup(' data-whole="1"') if whole else Markup("")
    return Markup('<data value="{}" data-kind="{}"{}>{}{}</data>').format(repr(float(value)), kind, flag, text, name)


def _unit(kind: str) -> Markup:
    return Markup('<span data-unit-of="{}">{}</span>').format(kind, MEASURES[kind].unit)


def _prose(text: str) -> Markup:
    """A sentence whose quantities follow the page's units; in metric ones it stays as it was written."""
    said = Markup("")
    for word in pieces(text):
        if word.kind is None:
            said += word.text
        elif word.value is None:
            said += _unit(word.kind)
        else:
            number = '<data value="{}" data-kind="{}" data-said="{}">{}</data>'
            said += Markup(number).format(repr(word.value), word.kind, word.text, word.text)
    return said


def _drawn_number(value: float, kind: str, digits: int = 5) -> Markup:
    """A number inside a drawing, where only text elements may stand."""
    text = f"{float(f'{value * MEASURES[kind].factor:.{digits}g}'):.6g}"
    plain = '<tspan data-value="{}" data-kind="{}" data-digits="{}">{}</tspan>'
    return Markup(plain).format(repr(float(value)), kind, digits, text)


def _drawn_unit(kind: str) -> Markup:
    return Markup('<tspan data-unit-of="{}">{}</tspan>').format(kind, MEASURES[kind].unit)


def _sentences(contents: Mapping[str, Any]) -> list[str]:
    """The findings in words; with one load case, its name need not stand before each."""
    prefix = f"{next(iter(contents['load_cases']))}: " if len(contents.get("load_cases", ())) == 1 else ""
    return [text.removeprefix(prefix) for text in contents.get("sentences", ())]


def _weakest(case: Mapping[str, Any]) -> list[tuple[str, float, str]]:
    """The lowest margins of regions, joints, hard points and tubes, lowest first: (name, margin, what fails)."""
    found = [(n, r["worst"]["margin"], r["worst"]["mode"]) for n, r in case["regions"].items() if r["worst"]]
    for kind, table in (("joint", case["joints"]), ("hard point", case.get("hard_points", {}))):
        found += [(name, one["margin"], kind) for name, one in table.items() if one["margin"] is not None]
    for family, kind in (("subframes", "tube"), ("stiffeners", "stiffener")):
        worst = {name: frame["worst"] for name, frame in case.get(family, {}).items()}
        found += [
            (f"{name} {one['tube']}", one["margin"], f"{kind}, {one['governs']}")
            for name, one in worst.items()
            if one["margin"] is not None
        ]
    lowest: dict[tuple[str, str], tuple[str, float, str]] = {}
    for name, margin, what in sorted(found, key=lambda row: row[1]):
        lowest.setdefault((re.sub(SIDES, "", name), what), (name, margin, what))  # of both sides the worse
    return list(lowest.values())[:WEAKEST]


def _hinges(joints: Mapping[str, Any]) -> list[tuple[str, str, float]]:
    """Joints whose springs hold most strain energy, left and right together: (name, kind, share)."""
    shares: dict[tuple[str, str], float] = {}
    for name, found in joints.items():
        key = re.sub(SIDES, "", name), found["kind"]
        shares[key] = shares.get(key, 0.0) + (found["twist_share"] or 0.0)
    rows = sorted(((*key, share) for key, share in shares.items() if share > 0), key=lambda row: -row[2])
    return rows[:HINGES]


def _by_share(joints: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Joints by the strain energy in their springs, most first, then the moulded ones."""
    return sorted(joints.items(), key=lambda row: -1.0 if row[1]["twist_share"] is None else row[1]["twist_share"])[
        ::-1
    ]


def _part(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def _safe_json(value: Any) -> str:
    """JSON that can stand inside a script element: no "<" can end it."""
    return json.dumps(value, allow_nan=False, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c")


def _policy(style: str, scripts: Sequence[str]) -> str:
    """Content policy: nothing but the page's own style and scripts, known by their digests."""
    digests = [
        "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"
        for text in (style, *scripts)
    ]
    return (
        f"default-src 'none'; style-src {digests[0]}; script-src {' '.join(digests[1:])}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )

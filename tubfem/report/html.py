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
from tubfem.report import answer, chart, joint_page, numbers, review
from tubfem.report.cautions import STANDING
from tubfem.report.look import look_words
from tubfem.report.measures import MEASURES, OF_UNIT
from tubfem.report.prose import pieces
from tubfem.report.road_words import factor_text, felt_words, members_by_side
from tubfem.report.scene import scene
from tubfem.report.schemas import SCHEMAS
from tubfem.report.study_plots import plots
from tubfem.report.what_if import fits
from tubfem.tub.model import TubModel

STUDIES = ("compare", "next_ply", "schedule", "spread", "refine")
SCRIPTS = ("three.min.js", "page.js", "view.js")
TRYING = ("laminate.js", "uses.js", "what_if.js", "try.js")  # only with a reduced model
JOINTS_SHOWN = 12  # in the first table and drawn first; the rest follow in depth
JOINT_KEYS = ("length", "peak_shear_flow", "peak_normal", "peak_peel", "peak_moment", "twist_share", "margin")
STUDY_KINDS = {"_Nm_per_deg": "stiffness", "mass": "mass", "mass_added": "mass", "per_kg": "per_mass", "size": "length"}
STROKES = ("curve", "hand", "third", "fourth", "fifth", "sixth")  # of the curves in one drawing
BY_NAME = ("regions", "joints", "margins", "joint_margins", "others")  # by a case's names, too many for columns
# columns that only widen a table
EITHER = ("worst_region", "worst_joint", "worst_region_margin", "worst_joint_margin", "worst_joint_kind")
IN_FILE = (
    "path",
    "position",
    "confirmed_worst_kind",
    *EITHER,
    *(f"confirmed_{key}" for key in EITHER),
)
LONG = 40  # rows: a longer table of a study is folded away
BREAKS = re.compile(r"(?<=[/._=])(?=\w)")  # where a name may go on in the next line
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
    """What the 3-D view tells of a whole region, a joint, a hard point."""
    if "load_cases" not in contents:
        return {"regions": {}, "load_cases": {}, "joints": {}, "hard_points": {}}
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
        "joints": {
            name: {joint: {key: found[key] for key in JOINT_KEYS} for joint, found in case["joints"].items()}
            for name, case in cases.items()
        },
        "hard_points": {
            name: {mount: _hard_point(found) for mount, found in case.get("hard_points", {}).items()}
            for name, case in cases.items()
        },
    }


def _hard_point(found: Mapping[str, Any]) -> dict[str, Any]:
    lowest = found["checks"][0]["what"] if found["checks"] else ""
    return {key: found[key] for key in ("panel", "shear", "axial", "margin")} | {"what": lowest}


def _found(folder: Path) -> dict[str, Any]:
    """Studies and reduced model of a folder, as `page` takes them.

    What is not there, no JSON, or of another form than this version's is left out.
    """
    found = {}
    for name in ("what_if", *STUDIES):
        try:
            contents = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        if isinstance(contents, dict) and contents.get("schema", SCHEMAS[name]) == SCHEMAS[name]:
            found[name] = contents
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
        "of": _heading,
        "named": _named,
        "change": _change,
        "factor": numbers.factor,
        "weakest": answer.weakest,
        "weakest_regions": answer.weakest_regions,
        "by_case": answer.by_case,
        "ripples": answer.ripples,
        "giving": answer.giving,
        "by_share": answer.by_share,
        "flows": answer.flows,
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
        "drawn_prose": _drawn_prose,
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
    return Markup('<data value="{}" data-kind="{}"{}>{}{}</data>').format(_precise(value), kind, flag, text, name)


def _precise(value: float) -> str:
    """A value as the script reads it: more digits than it can show."""
    return f"{value:.7g}"


def _unit(kind: str) -> Markup:
    return Markup('<span data-unit-of="{}">{}</span>').format(kind, MEASURES[kind].unit)


def _heading(text: str, kind: str) -> Markup:
    """The heading of a column, with the unit that its numbers have."""
    return Markup("{}, {}").format(text, _unit(kind))


def _named(name: str) -> Markup:
    """A name that may be broken where its parts meet."""
    return Markup("<wbr>").join(BREAKS.split(name))


def _change(text: str) -> Markup:
    """A change as its command takes it, or in words."""
    return Markup("<code>{}</code>").format(_named(text)) if "=" in text else _prose(text)


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
            said += Markup(number).format(_precise(word.value), word.kind, word.text, word.text)
    return said


def _drawn_prose(text: str) -> Markup:
    """A sentence inside a drawing."""
    said = Markup("")
    for word in pieces(text):
        unit = word.kind is not None and word.value is None
        said += (
            _drawn_unit(word.kind)
            if unit
            else word.text
            if word.value is None
            else _drawn_number(word.value, word.kind, 3)
        )
    return said


def _drawn_number(value: float, kind: str, digits: int = 5) -> Markup:
    """A number inside a drawing, where only text elements may stand."""
    text = f"{float(f'{value * MEASURES[kind].factor:.{digits}g}'):.6g}"
    plain = '<tspan data-value="{}" data-kind="{}" data-digits="{}">{}</tspan>'
    return Markup(plain).format(_precise(value), kind, digits, text)


def _drawn_unit(kind: str) -> Markup:
    return Markup('<tspan data-unit-of="{}">{}</tspan>').format(kind, MEASURES[kind].unit)


def _sentences(contents: Mapping[str, Any]) -> list[str]:
    """The findings in words; with one load case, its name need not stand before each."""
    prefix = f"{next(iter(contents['load_cases']))}: " if len(contents.get("load_cases", ())) == 1 else ""
    return [text.removeprefix(prefix) for text in contents.get("sentences", ())]


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

from tubfem.study import fingerprints
from tubfem.study.executors import Kept
from tubfem.study.fingerprints import code_key, fingerprint


def test_parts_do_not_run_into_each_other():
    assert fingerprint("ab", "c") != fingerprint("a", "bc")
    assert fingerprint("ab") == fingerprint(b"ab")


def test_another_program_takes_nothing_up(tmp_path, monkeypatch):
    """Any line of the package that changes makes another key; what was kept before it is not read."""
    package = tmp_path / "package"
    (package / "study").mkdir(parents=True)
    (package / "run.py").write_text("one = 1")
    monkeypatch.setattr(fingerprints, "__file__", str(package / "study" / "fingerprints.py"))
    try:
        code_key.cache_clear()
        kept = Kept(tmp_path / "results", "study", "case")
        kept.write("item", 3)
        assert kept.read("item") == 3
        (package / "run.py").write_text("one = 2")
        assert kept.read("item") == 3  # the program that is running is still the old one
        code_key.cache_clear()
        assert kept.read("item") is None
    finally:
        code_key.cache_clear()

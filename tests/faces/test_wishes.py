"""The customer's wishes and measures at the plan question: typed plainly, kept, told, and judged again."""

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from api.app import create_app
from api.cli.main import app
from demo_graph.tours import DAY
from graph.desk import Desk
from graph.desk.measured import planned
from graph.desk.wishing import wishes
from graph.errors import BadQuestion
from graph.model.statement import canonical, digest

WHEEL = "part/Ostrel/46-20-262"


def test_wishes_are_read_as_people_type_them(demo_desk: Desk) -> None:
    typed = ["Keep: turbine housing", "NO-PART: ostrel 46 20 262", "no-used:shaft-wheel", "no-new", "No New"]
    assert wishes(demo_desk.catalogue, typed) == (
        "keep:turbine-housing",
        "no-new",
        f"no-part:{WHEEL}",
        "no-used:shaft-wheel",
    )


def test_all_wishes_that_are_none_are_named_at_once(demo_desk: Desk) -> None:
    with pytest.raises(BadQuestion) as caught:
        wishes(
            demo_desk.catalogue, ["weld", "keep:door", "no-part:99-99-99", "no-operation:pray", "no-new:x", "keep"]
        )
    for said in ("'weld' is no wish", "no seat 'door'", "99-99-99", "no operation 'pray'", "'no-new:x'", "'keep'"):
        assert said in caught.value.message


@pytest.mark.slow
def test_a_wish_is_kept_told_saved_and_judged(demo_folder: Path, tmp_path: Path) -> None:
    """The wheel 62/84 is in the cheapest plan (tests/test_demo_data.py); without it the plan is dearer."""
    words = ["plan", "--core", "HB-017", "--build", "larger-wheels", "--as-of", DAY, "--store", str(demo_folder)]
    plain = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)["answer"]
    file = tmp_path / "answer.json"
    done = CliRunner().invoke(app, [*words, "--wish", "no-part:46-20-262", "--save", str(file)])
    assert done.exit_code == 0, done.output
    assert "Wished: not the part Ostrel 46-20-262." in done.stdout
    saved = json.loads(file.read_bytes())
    assert saved["answer"]["question"]["wishes"] == [f"no-part:{WHEEL}"]
    used = {c["part"] for c in saved["answer"]["plans"][0]["seats"]}
    assert WHEEL in {c["part"] for c in plain["plans"][0]["seats"]} and WHEEL not in used
    assert saved["answer"]["plans"][0]["cost"] > plain["plans"][0]["cost"]
    judged = CliRunner().invoke(app, ["verify", str(file), "--store", str(demo_folder)])
    assert judged.exit_code == 0, judged.output
    wheel = next(c["part"] for c in saved["answer"]["plans"][0]["seats"] if c["seat"] == "compressor-wheel")
    for where in (saved["answer"], saved["answer"]["bundle"]):
        where["question"]["wishes"] = [f"no-part:{wheel}"]  # as if the customer had not wanted what is in it
    saved["digest"] = digest(saved["answer"])
    file.write_text(canonical(saved) + "\n")
    refused = CliRunner().invoke(app, ["verify", str(file), "--store", str(demo_folder), "--json"])
    assert refused.exit_code == 1
    assert any("does not want" in r["text"] for r in json.loads(refused.stdout)["refusals"])


@pytest.mark.slow
def test_measures_give_the_same_plan_on_all_faces_and_it_stands(
    demo_folder: Path, demo_desk: Desk, tmp_path: Path
) -> None:
    """The witness for fewest lasting operations: the planner's `best_by`, held to trying all in tests/planning."""
    words = ["plan", "--core", "HB-017", "--build", "larger-wheels", "--as-of", DAY, "--by", "lasting,cost"]
    done = CliRunner().invoke(app, [*words, "--store", str(demo_folder), "--json"])
    assert done.exit_code == 0, done.output
    ours = json.loads(done.stdout)
    kept = tmp_path / "weighed.json"
    weighed = CliRunner().invoke(app, ["weigh", *words[1:], "--save", str(kept), "--store", str(demo_folder)])
    assert weighed.exit_code == 0, weighed.output
    assert json.loads(kept.read_bytes()) == ours
    with TestClient(create_app(demo_folder, demo=True)) as client:
        asked = {"core": "HB-017", "build": "larger-wheels", "as_of": DAY, "by": ["lasting", "cost"]}
        theirs = client.post("/v1/plans", json=asked)
        assert theirs.status_code == 200, theirs.text
        assert theirs.json() == ours
        assert client.post("/v1/plans", json={**asked, "best": 2}).status_code == 422
        assert client.post("/v1/plans", json={**asked, "by": ["beauty"]}).status_code == 422
        said = client.post("/v1/verify", json=ours).json()
        assert (said["refusals"], said["against"]) == ([], "store")
    cheapest = demo_desk.plan("HB-017", "larger-wheels", day=DAY).plans[0]
    (plan,) = ours["answer"]["plans"]
    assert ours["answer"]["question"]["by"] == ["lasting", "cost"]
    assert ours["answer"]["proof"] == "proved best by its measures"
    assert sum(not s["reversible"] for s in plan["steps"]) < sum(not s.reversible for s in cheapest.steps)
    assert plan["cost"] > cheapest.cost
    assert "best by work that cannot be undone, then money" in ours["answer"]["sentence"]


def test_several_plans_by_measures_are_refused(demo_desk: Desk) -> None:
    with pytest.raises(BadQuestion, match="one plan"):
        planned(demo_desk, "HB-017", "larger-wheels", by=["time"], best=2, day=DAY)

"""What an earlier revision has placed is proposed, and only hinted at where it was redrawn."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.samples import checked, copied
from turncheck.placing.proposing import Proposal
from turncheck.placing.session import Change, Session, Step


@pytest.fixture(scope="module")
def redrawn(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """Odo's front and side without a point in them, the mouth in front drawn otherwise."""
    folder = copied("odo", ("front", "side"), tmp_path_factory.mktemp("next") / "odo")
    (folder / "landmarks.csv").unlink()
    x, y = spot("front", "mouth")
    pixels = cv2.imread(str(folder / "front.png"), cv2.IMREAD_UNCHANGED)
    cv2.ellipse(pixels, (round(x), round(y)), (18, 9), 0, 0, 360, (40, 30, 120, 255), -1)
    cv2.imwrite(str(folder / "front.png"), pixels)
    return Session(folder, earlier=checked("odo"))


def spot(view: str, landmark: str) -> tuple[float, float]:
    """Where the earlier revision has a point."""
    spots = [
        (p.x, p.y) for p in checked("odo").placings if (p.view, p.landmark) == (view, landmark)
    ]
    return tuple(np.mean(spots, axis=0))  # type: ignore[return-value]


def proposed(session: Session) -> dict[tuple[str, str], Proposal]:
    found = [Proposal(**one) for one in session.proposals()]  # type: ignore[arg-type]
    assert len({(one.view, one.landmark) for one in found}) == len(found)
    return {(one.view, one.landmark): one for one in found}


def test_what_lies_as_it_lay_is_offered_and_what_was_redrawn_hinted_at(redrawn: Session) -> None:
    found = proposed(redrawn)
    for view in ("front", "side"):
        tip = found[view, "fingertip_r"]
        assert np.hypot(*np.subtract((tip.x, tip.y), spot(view, "fingertip_r"))) < 1.0
        assert tip.source == "revision B" and not tip.doubtful and not tip.hidden
        # as surely as it was placed, and no surer
        assert tip.sd == pytest.approx(0.0015 * checked("odo").measured.figure_height, rel=0.02)
    mouth = found["front", "mouth"]
    assert mouth.doubtful and mouth.source == "revision B"
    assert np.hypot(*np.subtract((mouth.x, mouth.y), spot("front", "mouth"))) < 2.0
    assert not found["side", "mouth"].doubtful
    assert found["front", "crown"].doubtful  # under the cap, which may have moved with the mouth
    assert found["side", "crown"].hidden and not found["side", "crown"].doubtful
    assert "back" not in {view for view, _ in found}


def test_what_is_placed_is_proposed_no_more(redrawn: Session) -> None:
    before = proposed(redrawn)
    step = Step(view="front", landmark="crown", by="ana", x=600.0, y=130.0)
    redrawn.change(Change(base=redrawn.hash(), steps=[step]))
    assert before.keys() - proposed(redrawn).keys() == {("front", "crown")}


def test_the_page_begins_with_the_first_point_that_the_earlier_revision_shows(
    redrawn: Session,
) -> None:
    """The top of the neck comes before its base, and the earlier revision does not have it."""
    (walk,) = (v["walk"] for v in redrawn.setting()["views"] if v["name"] == "front")  # type: ignore[attr-defined]
    placed = {p["landmark"] for p in redrawn.state()["placings"] if p["view"] == "front"}  # type: ignore[attr-defined]
    todo = [name for name in walk[: walk.index("neck_top")] if name not in placed]
    assert redrawn.setting()["begin"] == ("front", todo[0])
    steps = []
    for name in todo:
        x, y = spot("front", name)
        steps.append(Step(view="front", landmark=name, x=x, y=y))
    redrawn.change(Change(base=redrawn.hash(), steps=steps))
    assert redrawn.setting()["begin"] == ("front", "neck")
    unseen = Step(view="front", landmark="neck", unseen=True)
    redrawn.change(Change(base=redrawn.hash(), steps=[unseen]))
    assert redrawn.setting()["begin"] == ("front", "spine")


def test_without_an_earlier_revision_it_begins_where_anything_is_left(sheet_folder: Path) -> None:
    assert Session(sheet_folder).setting()["begin"] is None

"""An engine by as much of its dimensions as a shop knows."""

import pickle

import casetight as ct
import pytest

DISPLACEMENT = ("51.5 cm3", "0.1 cm3")


def test_the_displacement_alone_gives_a_wide_volume() -> None:
    engine = ct.Engine(displacement_m3=DISPLACEMENT)
    anywhere, top = engine.tested_volume(), engine.tested_volume("top")
    assert 0.15 < anywhere.standard_uncertainty_m3 / anywhere.volume_m3 < 0.17
    assert top.standard_uncertainty_m3 < anywhere.standard_uncertainty_m3
    # By hand: 51.5 cm3 (ln 2/0.3 + 1) and a rig of 25 cm3 in the middle.
    assert top.volume_m3 == pytest.approx(195.49e-6, rel=1e-4)
    for made in (engine, anywhere):
        assert pickle.loads(pickle.dumps(made)) == made


def test_more_that_is_known_narrows_it() -> None:
    by_ratio = ct.Engine(displacement_m3=DISPLACEMENT, primary_compression_ratio=(1.42, 0.01))
    volume = by_ratio.tested_volume("top", rig_m3=("18 cm3", "1 cm3"))
    assert volume.standard_uncertainty_m3 / volume.volume_m3 < 0.02
    with pytest.raises(ct.MissingError, match="where the piston stands"):
        by_ratio.tested_volume()
    with pytest.raises(ct.MissingError, match="a turn needs bore_m"):
        by_ratio.over_a_turn(12)


def test_what_contradicts_itself_or_is_nothing_is_refused() -> None:
    with pytest.raises(ct.MissingError, match="displacement_m3, or bore_m and stroke_m"):
        ct.Engine(rod_m="55 mm")
    with pytest.raises(ct.VolumeError, match="which make 51.52 cm3; correct the one that is wrong"):
        ct.Engine(displacement_m3="60 cm3", bore_m="46 mm", stroke_m="31 mm")

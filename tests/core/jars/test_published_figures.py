"""The figures of a batch day are those of the published statements they stand for."""

import pytest

from service.batches import run_sheets
from service.core.jars import batches, deviations, heat, ph
from service.published.loading import facts


@pytest.mark.parametrize(
    ("statement", "figure", "ours"),
    [
        ("equilibrium-ph-limit", "ph_max", ph.PH_LIMIT),
        ("ph-working-target", "ph_target_max", ph.PH_TARGET),
        ("ph-working-target", "ph_caution_max", ph.PH_LIMIT),
        ("ph-meter-above-four", "strip_ph_max", ph.STRIP_PH_LIMIT),
        ("ph-wait-for-equilibrium", "wait_hours_min", ph.EQUILIBRIUM_HOURS),
        ("ph-meter-calibration", "buffer_ph_low", ph.BUFFERS[0]),
        ("ph-meter-calibration", "buffer_ph_high", ph.BUFFERS[1]),
        ("unsealed-24h", "refuse_after_hours", deviations.UNSEALED_HOURS),
        ("unsealed-24h", "wrong_process_hours", deviations.UNDER_PROCESSED_HOURS),
        ("under-processed-24h", "warn_after_hours", deviations.UNDER_PROCESSED_HOURS),
        ("under-processed-24h", "refuse_after_hours", deviations.LATEST_HOURS),
        ("vent-ten-minutes", "vent_minutes_min", batches.VENT_MINUTES),
        ("cool-down-conditions", "cool_hours_min", batches.REST_HOURS[0]),
        ("cool-down-conditions", "cool_hours_max", batches.REST_HOURS[1]),
        ("dial-gauge-error-limit", "error_psi_max", heat.MOST_PSI_HIGH),
        ("dial-gauge-yearly-check", "months_max", heat.GAUGE_TEST_DAYS // 30),
        ("low-temp-pasteurise-listed-only", "water_temp_f_min", heat.PASTEURIZATION_F),
        ("boil-break-restart", "credit_minutes_after_break", 0),
        ("pressure-drop-restart", "credit_minutes_after_drop", 0),
        ("one-canner-load", "standing_minutes_max", run_sheets.STANDING_MINUTES),
        ("headspace-unsealed-to-freezer", "headspace_in", 1.5),
    ],
)
def test_a_figure_is_the_published_one(statement: str, figure: str, ours: float) -> None:
    assert float(facts().statement[statement].figures[figure]) == ours

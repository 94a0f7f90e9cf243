"""The pose in the racquet file: what comes out is what went in, so a photo can be straightened again."""

from __future__ import annotations

import numpy as np

from digitise.axis import Axis
from digitise.body import body_of
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.landmarks import HandleMarks
from digitise.pose import camera_estimate, lying, pose_record
from digitise.resting import rest
from model.sight_record import PoseRecord

TURN = np.array([[0.0, -1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])


def estimate() -> CameraEstimate:
    camera = Camera(3000.0, 2000.5, 1500.5, TURN, np.array([10.0, -20.0, 800.0]), 0.01)
    return CameraEstimate(camera, np.diag(np.arange(1.0, 1 + len(PARAMETER_NAMES))), 0.1, 0.5, True)


def test_a_pose_survives_the_file() -> None:
    body = body_of("solid", 410.0, HandleMarks(30.0, 34.0, 130.0, 2.0), 14.0, 30.0)
    resting = rest(Axis(np.array([100.0, -200.0]), np.array([0.6, 0.8])), body)
    text = pose_record(estimate(), resting, body).model_dump_json()
    read = PoseRecord.model_validate_json(text)
    again, same_body = lying(read)
    points = np.array([[0.0, 0.0], [95.0, 280.0], [-30.0, 410.0]])
    before, after = estimate(), camera_estimate(read)
    np.testing.assert_array_equal(
        resting.to_pixels(before.camera, points), again.to_pixels(after.camera, points)
    )
    np.testing.assert_array_equal(before.covariance, after.covariance)
    assert same_body == body


def test_a_covariance_of_other_parameters_is_not_taken() -> None:
    body = body_of("solid", 410.0, HandleMarks(30.0, 34.0, 130.0, 2.0), 14.0, 30.0)
    record = pose_record(estimate(), rest(Axis(np.zeros(2), np.array([0.0, 1.0])), body), body)
    camera = record.camera.model_copy(update={"covariance_order": ["something", "else"]})
    assert not camera_estimate(record.model_copy(update={"camera": camera})).covariance.any()

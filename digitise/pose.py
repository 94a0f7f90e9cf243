"""The camera and how the racquet lay, into the racquet file and out of it again."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np

from digitise.axis import Axis
from digitise.camera import PARAMETER_NAMES, Camera
from digitise.card_pose import CameraEstimate
from digitise.resting import Body, Resting
from digitise.tone import FloatArray
from model.sight_record import BodyRecord, CameraRecord, PoseRecord


def pose_record(estimate: CameraEstimate, resting: Resting, body: Body) -> PoseRecord:
    """The record of a pose."""
    camera = estimate.camera
    return PoseRecord(
        camera=CameraRecord(
            focal_px=camera.focal_px,
            cx_px=camera.cx_px,
            cy_px=camera.cy_px,
            rotation=_rows(camera.rotation),
            translation_mm=[float(v) for v in camera.translation_mm],
            k1=camera.k1,
            covariance=_rows(estimate.covariance),
            covariance_order=list(PARAMETER_NAMES),
        ),
        origin_mm=[float(v) for v in resting.axis.origin_mm],
        up=[float(v) for v in resting.axis.up],
        height_mm=float(resting.height_mm),
        slope=float(resting.slope),
        body=BodyRecord.model_validate(asdict(body), strict=False),
    )


def camera_estimate(pose: PoseRecord, focal_known: bool = True) -> CameraEstimate:
    """The camera of a record; its covariance is zero where the record holds none of today's parameters."""
    record = pose.camera
    count = len(PARAMETER_NAMES)
    covariance = np.zeros((count, count))
    if record.covariance is not None and record.covariance_order == list(PARAMETER_NAMES):
        covariance = np.array(record.covariance)
    camera = Camera(
        focal_px=record.focal_px,
        cx_px=record.cx_px,
        cy_px=record.cy_px,
        rotation=np.array(record.rotation),
        translation_mm=np.array(record.translation_mm),
        k1=record.k1,
    )
    return CameraEstimate(camera, covariance, 0.0, 0.0, focal_known)


def lying(pose: PoseRecord) -> tuple[Resting, Body]:
    """The racquet's frame and section of a record."""
    axis = Axis(np.array(pose.origin_mm), np.array(pose.up))
    return Resting(axis, pose.height_mm, pose.slope), Body(**pose.body.model_dump())


def _rows(matrix: FloatArray) -> list[list[float]]:
    return [[float(v) for v in row] for row in matrix]

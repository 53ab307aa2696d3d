"""When something happened in the barn, by a clock that may be wrong. Pure."""

from datetime import datetime, timedelta

LONGEST_AWAY = timedelta(days=60)


def happened(
    device_at: datetime,
    offset: timedelta,
    drift: timedelta,
    received_at: datetime,
    not_before: datetime | None = None,
) -> datetime:
    """The device's moment set right by the offset it knew, or by the drift seen on sending where that is no better.

    `offset` is server less device at their last meeting before the entry, `drift` the same on sending. What would lie
    in the future, longer ago than a device may be away, or before `not_before` (the day of the visit) cannot be: then
    the other counts, at last `received_at`.
    """
    earliest = received_at - LONGEST_AWAY
    if not_before is not None and earliest < not_before <= received_at:
        earliest = not_before
    for shift in (offset, drift):
        moment = device_at + shift
        if earliest <= moment <= received_at:
            return moment
    return received_at

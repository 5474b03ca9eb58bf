"""Every certificate that a block ever had in the crib."""

from datetime import date, datetime

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.tables import certificate


class PastCertificate(Struct, frozen=True, kw_only=True):
    """What a block was certified as; lengths are quanta. None for what was not said."""

    number: int
    certificate: str | None
    calibrated_on: date | None
    due_on: date | None
    deviation: int | None
    expanded_uncertainty: int | None
    noted_at: datetime
    noted_by: str


def certificates_of(connection: sa.Connection, of: str, block: str) -> tuple[PastCertificate, ...]:
    """The oldest first."""
    columns = [certificate.c[name] for name in PastCertificate.__struct_fields__]
    query = (
        sa.select(*columns)
        .where(certificate.c.site_id == of, certificate.c.block_id == block)
        .order_by(certificate.c.number)
    )
    return tuple(PastCertificate(**row) for row in connection.execute(query).mappings())

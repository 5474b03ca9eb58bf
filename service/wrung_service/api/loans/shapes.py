"""Issue, return, condition: as they are sent and answered."""

from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung_service.api.shelf.block_answer import CribBlock, write_block
from wrung_service.api.shelf.ids import KeptBlockId
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.shelf.risks import AT_RISK, PlanAtRisk, write_risks
from wrung_service.api.texts import BlockId, Moment, Reason, Time
from wrung_service.store.blocks import Condition
from wrung_service.store.loans import Loan
from wrung_service.usecases.shelf.conditions import Changed

_MOST: Final = 500


class BlockIssue(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Blocks that go out; a scan of their ids is enough."""

    blocks: Annotated[
        tuple[KeptBlockId, ...], Meta(min_length=1, max_length=_MOST, description="Their ids.")
    ]
    plan: (
        Annotated[
            BlockId,
            Meta(
                description="The plan that they go out for. If neither it nor a borrower is named: "
                "the plan that each block is promised to now, or next."
            ),
        ]
        | None
    ) = None
    borrower: Annotated[BlockId, Meta(description="Who takes them.")] | None = None
    due_at: (
        Annotated[
            Time,
            Meta(
                description="When they should be back. If left out: when the plan ends; for a "
                "borrower, when the block is promised to a plan next, else no time."
            ),
        ]
        | None
    ) = None
    note: Annotated[Reason, Meta(description="Whatever else there is to say.")] | None = None


class ReturnedBlock(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A block that comes back."""

    id: Annotated[KeptBlockId, Meta(description="Its id.")]
    condition: Annotated[
        Condition, Meta(description="How it comes back; `missing` if it does not.")
    ] = "fit"
    reason: Annotated[Reason, Meta(description="What happened to it.")] | None = None


class BlockReturn(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Blocks that come back, from one stack or several."""

    blocks: Annotated[
        tuple[ReturnedBlock, ...],
        Meta(min_length=1, max_length=_MOST, description="Each with its condition."),
    ]


class ConditionOfBlocks(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Blocks that are in another condition from now on."""

    blocks: Annotated[
        tuple[KeptBlockId, ...], Meta(min_length=1, max_length=_MOST, description="Their ids.")
    ]
    condition: Annotated[Condition, Meta(description="The new condition.")]
    reason: Annotated[Reason, Meta(description="Why.")] | None = None


class BlockLoan(Struct, frozen=True, kw_only=True):
    """A block that went out; null for what is not known."""

    block: Annotated[str, Meta(description="Its id.")]
    plan: Annotated[str | None, Meta(description="The plan that it went out for.")]
    borrower: Annotated[str | None, Meta(description="Who took it.")]
    issued_at: Annotated[Moment, Meta(description="When it went out.")]
    issued_by: Annotated[str, Meta(description="Who gave it out.")]
    due_at: Annotated[Moment | None, Meta(description="When it should be back.")]
    returned_at: Annotated[Moment | None, Meta(description="When it came back; null: it is out.")]
    returned_by: Annotated[str | None, Meta(description="Who took it back.")]
    returned_condition: Annotated[Condition | None, Meta(description="How it came back.")]
    note: Annotated[str | None, Meta(description="What was said of it.")]


class IssuedBlocks(Struct, frozen=True, kw_only=True):
    """What went out."""

    loans: Annotated[tuple[BlockLoan, ...], Meta(description="In the order of the request.")]


class LoanList(Struct, frozen=True, kw_only=True):
    """A page of loans."""

    loans: Annotated[tuple[BlockLoan, ...], Meta(description="The oldest first.")]
    next: NextPage


class RiskList(Struct, frozen=True, kw_only=True):
    """Plans at risk."""

    at_risk: Annotated[
        tuple[PlanAtRisk, ...], Meta(description="Those that are needed first come first.")
    ]


class ChangedBlocks(Struct, frozen=True, kw_only=True):
    """Blocks as they are now, and the plans that cannot count on them."""

    blocks: Annotated[tuple[CribBlock, ...], Meta(description="In the order of the request.")]
    at_risk: Annotated[tuple[PlanAtRisk, ...], Meta(description=AT_RISK)]


def write_loan(loan: Loan) -> BlockLoan:
    """The loan as it stands on the wire."""
    return BlockLoan(
        block=loan.block_id,
        plan=loan.plan_id,
        borrower=loan.borrower,
        issued_at=loan.issued_at,
        issued_by=loan.issued_by,
        due_at=loan.due_at,
        returned_at=loan.returned_at,
        returned_by=loan.returned_by,
        returned_condition=loan.returned_condition,
        note=loan.note,
    )


def write_changed(changed: Changed, prefix: str) -> ChangedBlocks:
    """Blocks and plans at risk as they stand on the wire."""
    return ChangedBlocks(
        blocks=tuple(write_block(each) for each in changed.blocks),
        at_risk=write_risks(changed.at_risk, prefix),
    )

"""Whether the process answers."""

from fastapi import APIRouter

from services.http.rights import EVERYBODY

router = APIRouter(dependencies=[EVERYBODY])


@router.get("/health")
async def health() -> dict[str, str]:
    """Say that the process answers. Touches nothing."""
    return {"status": "ok"}

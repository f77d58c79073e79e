"""Answers that hold a secret are kept sealed: only the token they were given to opens them again."""

import hmac
from base64 import urlsafe_b64encode
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography.fernet import Fernet


def seal(answer: str, secret: str) -> str:
    """Seal an answer for whoever has this secret."""
    return _lock(secret).encrypt(answer.encode()).decode()


def unseal(sealed: str, secret: str) -> str | None:
    """Open a sealed answer; `None` for any other secret than the one it was sealed for."""
    from cryptography.fernet import InvalidToken

    try:
        return _lock(secret).decrypt(sealed).decode()
    except InvalidToken:
        return None


def _lock(secret: str) -> "Fernet":
    """The secret is random and long, so that one hash makes a key of it; the database has another hash of it only."""
    from cryptography.fernet import Fernet  # 3 MB: most workers never seal anything

    return Fernet(urlsafe_b64encode(hmac.digest(secret.encode(), b"sealed answers", "sha256")))

"""Write and read the file of a backup: a line that says how to read the rest, and a body whose every byte is proved.

Format 1. The first line is JSON and ends with a line feed. What follows it is the body: one line of JSON that says
what is in the backup (manifest.py), a line feed, and what pg_dump wrote in its custom format.

* Without a passphrase ("cipher": null) the body stands as it is, and the last 32 bytes of the file are the SHA-256 of
  everything before them. `tail -n +3 FILE | head -c -32` is what pg_restore reads.
* With a passphrase the body is cut into chunks of "chunk" bytes, the last one shorter or empty, each encrypted with
  AES-256-GCM and followed by its tag of 16 bytes. The key is scrypt (RFC 7914) of the passphrase in UTF-8 with the
  parameters of the first line. The nonce of a chunk is the 7 bytes of "nonce", the number of the chunk from 0 in 4
  bytes, big-endian, and one byte that is 1 for the last chunk and 0 for every other; the first line with its line feed
  is authenticated with each. So none can be changed, moved, left out or cut off. This is the STREAM construction
  (Hoang, Reyhanitabar, Rogaway and Vizár, 2015) in its usual layout for AES-GCM; the primitives are `cryptography`'s.
"""

import base64
import binascii
import hashlib
import json
import os
from collections.abc import Iterator
from typing import Any, BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from school.errors import Refusal

KIND, FORMAT = "training-record backup", 1
# Memory for a chunk or two is all that writing and reading need, however large the database is.
CHUNK_BYTES = 1 << 20
TAG_BYTES, DIGEST_BYTES = 16, 32
MAX_HEADER_BYTES = 4096
SCRYPT_COST, SCRYPT_BLOCK_SIZE, SCRYPT_PARALLELISM = 1 << 17, 8, 1  # of scrypt: 128 MiB and about half a second
MAX_SCRYPT_COST = 1 << 20  # a stranger's file does not make this machine work longer than so
# Passphrases can be tried against a stolen file without any limit, unlike at a log-in.
MIN_PASSPHRASE_LENGTH = 12

ALTERED = "This backup was altered or is not whole: nothing was taken from it. Use another one."


class BackupWriter:
    """Write the bytes of a body into the file of a backup; only one chunk is in memory.

    `close` writes the last chunk or the digest, without which the file is refused.
    """

    def __init__(self, file: BinaryIO, passphrase: str | None) -> None:
        self.file, self.written = file, 0
        self.cipher: AESGCM | None = None
        header: dict[str, Any] = {"kind": KIND, "format": FORMAT, "cipher": None, "digest": "SHA-256"}
        if passphrase is not None:
            # New for each file: GCM is broken once a nonce is used twice under one key.
            salt, self.prefix = os.urandom(16), os.urandom(7)
            header = {
                "kind": KIND,
                "format": FORMAT,
                "cipher": "AES-256-GCM",
                "chunk": CHUNK_BYTES,
                "key": "scrypt",
                "n": SCRYPT_COST,
                "r": SCRYPT_BLOCK_SIZE,
                "p": SCRYPT_PARALLELISM,
                "salt": _to_base64(salt),
                "nonce": _to_base64(self.prefix),
            }
            self.cipher = AESGCM(_derive_key(passphrase, salt, header))
        self.header = json.dumps(header).encode() + b"\n"
        self.digest, self.waiting, self.number = hashlib.sha256(), bytearray(), 0
        self._put(self.header)

    def write(self, piece: bytes) -> None:
        if self.cipher is None:
            self._put(piece)
            return
        self.waiting += piece
        while len(self.waiting) > CHUNK_BYTES:  # one is held back: whether it is the last is only known at the end
            self._put_chunk(bytes(self.waiting[:CHUNK_BYTES]), last=False)
            del self.waiting[:CHUNK_BYTES]

    def close(self) -> None:
        if self.cipher is None:
            self._put(self.digest.digest())
        else:
            self._put_chunk(bytes(self.waiting), last=True)

    def _put_chunk(self, chunk: bytes, last: bool) -> None:
        assert self.cipher is not None
        self._put(self.cipher.encrypt(_nonce(self.prefix, self.number, last), chunk, self.header))
        self.number += 1

    def _put(self, piece: bytes) -> None:
        self.file.write(piece)
        self.digest.update(piece)
        self.written += len(piece)


def read_body(file: BinaryIO, passphrase: str | None) -> Iterator[bytes]:
    """Yield the body in pieces; refuse the file at the first piece that differs from what was written.

    Without a passphrase the file is proved only at its end: a caller reads it to the end before it acts on the body.
    """
    line, header = _read_header(file)
    if header["cipher"] is None:
        yield from _read_plain(file, line)
        return
    if passphrase is None:
        raise Refusal("This backup is encrypted: give its passphrase.")
    try:
        salt, prefix, size = _from_base64(header["salt"]), _from_base64(header["nonce"]), int(header["chunk"])
        # The size comes from the file: without a bound a forged one would fill the memory.
        if len(prefix) != 7 or not 0 < size <= 64 * CHUNK_BYTES:
            raise ValueError
        cipher = AESGCM(_derive_key(passphrase, salt, header))
    except (KeyError, TypeError, ValueError) as wrong:
        raise Refusal(ALTERED) from wrong
    yield from _decrypt(file, line, cipher, prefix, size)


def _read_plain(file: BinaryIO, line: bytes) -> Iterator[bytes]:
    # The end of the file is known only when nothing follows, so the last bytes read may always be the digest.
    digest, tail = hashlib.sha256(line), b""
    while piece := file.read(CHUNK_BYTES):
        tail += piece
        ready, tail = tail[:-DIGEST_BYTES], tail[-DIGEST_BYTES:]
        digest.update(ready)
        yield ready
    # A digest without a key shows damage and no forger: against one there is the passphrase.
    if tail != digest.digest():
        raise Refusal(ALTERED)


def _decrypt(file: BinaryIO, line: bytes, cipher: AESGCM, prefix: bytes, size: int) -> Iterator[bytes]:
    # One chunk is read ahead: the nonce of the last one differs, so a file that was cut off fails its tag.
    chunk, number = file.read(size + TAG_BYTES), 0
    while True:
        following = file.read(size + TAG_BYTES)
        try:
            yield cipher.decrypt(_nonce(prefix, number, not following), chunk, line)
        except InvalidTag as wrong:
            # A wrong passphrase and an altered first chunk look the same: both fail the first tag.
            if number == 0:
                raise Refusal(
                    "The passphrase is not the one of this backup, or its beginning was altered. Nothing was taken from"
                    " it. Try the passphrase once more, then another backup."
                ) from wrong
            raise Refusal(ALTERED) from wrong
        if not following:
            return
        chunk, number = following, number + 1


def _read_header(file: BinaryIO) -> tuple[bytes, dict[str, Any]]:
    # Bounded: a stranger's file may have no line feed at all.
    line = file.readline(MAX_HEADER_BYTES)
    try:
        header = json.loads(line)
        is_backup = header["kind"] == KIND and header["cipher"] in (None, "AES-256-GCM")
        version = int(header["format"])
    except (KeyError, TypeError, ValueError) as wrong:
        raise Refusal("This is no backup of a training record, or its first line was altered.") from wrong
    if not is_backup or not line.endswith(b"\n"):
        raise Refusal("This is no backup of a training record, or its first line was altered.")
    if version != FORMAT:
        raise Refusal(f"This backup has format {version}; this version of the program reads format {FORMAT}.")
    return line, header


def _derive_key(passphrase: str, salt: bytes, header: dict[str, Any]) -> bytes:
    cost, block, parallel = int(header["n"]), int(header["r"]), int(header["p"])
    # The parameters come from the file, before anything in it is authenticated.
    if not 1 < cost <= MAX_SCRYPT_COST or not 0 < block <= 32 or not 0 < parallel <= 16:
        raise ValueError("out of bounds")
    return Scrypt(salt=salt, length=32, n=cost, r=block, p=parallel).derive(passphrase.encode())


def _nonce(prefix: bytes, number: int, last: bool) -> bytes:
    return prefix + number.to_bytes(4, "big") + bytes([last])


def _to_base64(value: bytes) -> str:
    return base64.b64encode(value).decode()


def _from_base64(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except binascii.Error as wrong:
        raise ValueError from wrong

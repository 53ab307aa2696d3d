"""A device with a passkey, made of the library's own parts: enough of WebAuthn level 2 to answer a server."""

import hashlib
import json
import struct
from base64 import urlsafe_b64encode

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def text(raw: bytes) -> str:
    return urlsafe_b64encode(raw).rstrip(b"=").decode()


class Authenticator:
    def __init__(self, host: str = "testserver", origin: str = "https://testserver") -> None:
        self.host, self.origin, self.count = host, origin, 0
        self.key, self.key_id = ec.generate_private_key(ec.SECP256R1()), b"key-of-a-test-0001"

    def make(self, question: dict, **changes) -> str:
        numbers = self.key.public_key().public_numbers()
        public = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        attested = bytes(16) + struct.pack(">H", len(self.key_id)) + self.key_id + cbor2.dumps(public)
        data = self._data(ATTESTED | changes.get("flags", PRESENT | VERIFIED)) + attested
        statement = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        return self._said({"attestationObject": text(statement)}, self._client("webauthn.create", question, changes))

    def sign(self, question: dict, **changes) -> str:
        self.count += 1
        client = self._client("webauthn.get", question, changes)
        data = self._data(changes.get("flags", PRESENT | VERIFIED))
        signature = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return self._said({"authenticatorData": text(data), "signature": text(signature)}, client)

    def _data(self, flags: int) -> bytes:
        return hashlib.sha256(self.host.encode()).digest() + bytes([flags]) + struct.pack(">I", self.count)

    def _client(self, what: str, question: dict, changes: dict) -> bytes:
        said = {"type": what, "challenge": question["challenge"], "origin": self.origin}
        return json.dumps({**said, **changes.get("client", {})}).encode()

    def _said(self, response: dict, client: bytes) -> str:
        key = text(self.key_id)
        facts = {"id": key, "rawId": key, "type": "public-key", "clientExtensionResults": {}}
        return json.dumps({**facts, "response": {**response, "clientDataJSON": text(client)}})

"""Certificates and keys that nobody else trusts: a certificate authority of the tests' own, and keys to sign mails with.

Owns: keys and certificates. Must not know: who shows them to whom.
"""

import base64
import datetime
import ipaddress
import ssl

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.x509.oid import NameOID

# A certificate is looked at by the machine's clock, not by the program's `--now`.
BEGINS = datetime.datetime.now(datetime.UTC) - datetime.timedelta(days=1)
ENDS = BEGINS + datetime.timedelta(days=7)


class Authority:
    """Signs certificates for servers on this machine; `roots` is the PEM file of its own."""

    def __init__(self, folder, name):
        self.folder, self.name = folder, name
        self.key = ec.generate_private_key(ec.SECP256R1())
        self.subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
        own = self._certificate(self.subject, self.key.public_key(), x509.BasicConstraints(ca=True, path_length=0))
        self.roots = folder / f"{name}.pem"
        self.roots.write_bytes(own.public_bytes(serialization.Encoding.PEM))

    def server(self):
        """What a server at localhost and 127.0.0.1 shows its clients."""
        key = ec.generate_private_key(ec.SECP256R1())
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
        names = [x509.DNSName("localhost"), x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]
        certificate = self._certificate(
            subject, key.public_key(), x509.BasicConstraints(ca=False, path_length=None), x509.SubjectAlternativeName(names)
        )
        file = self.folder / f"{self.name}-server.pem"
        file.write_bytes(private(key) + certificate.public_bytes(serialization.Encoding.PEM))
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(file)
        return context

    def _certificate(self, subject, public_key, *extensions):
        builder = x509.CertificateBuilder(self.subject, subject, public_key, x509.random_serial_number(), BEGINS, ENDS)
        for extension in extensions:
            builder = builder.add_extension(extension, critical=isinstance(extension, x509.BasicConstraints))
        return builder.sign(self.key, hashes.SHA256())


class SigningKey:
    """A key for DKIM: `file` for who signs, `record` for who verifies (RFC 6376, 3.6.1; RFC 8463, 4.2)."""

    def __init__(self, folder, kind):
        self.file = folder / f"{kind}.pem"
        if kind == "rsa":
            key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
            public = key.public_key().public_bytes(
                serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
            )
        else:
            key = ed25519.Ed25519PrivateKey.generate()
            public = key.public_key().public_bytes_raw()
        self.file.write_bytes(private(key))
        self.record = b"v=DKIM1; k=" + kind.encode() + b"; p=" + base64.b64encode(public)


def private(key):
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )

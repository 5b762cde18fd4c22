//! Letting a phone in: a certificate authority of the keeper's own.
//!
//! The authority is made on the keeper's machine and its key never leaves it. It can vouch for
//! private addresses and `.local` names only, so a stolen key opens nobody's bank. Absent: codes and
//! sessions, which the store keeps (as hashes) with the list of devices.

use crate::PageError;
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DnType, ExtendedKeyUsagePurpose, GeneralSubtree, IsCa,
    Issuer, KeyPair, KeyUsagePurpose, NameConstraints, SanType,
};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::{
    fs,
    io::Write,
    net::{IpAddr, Ipv4Addr, UdpSocket},
    path::{Path, PathBuf},
};
use time::OffsetDateTime;

/// Days that a leaf is good for; phones refuse more than 398.
const LEAF_DAYS: i64 = 365;
/// A leaf with fewer days left is made anew at the start.
const RENEW_DAYS: i64 = 45;
/// Days that the authority is good for: ten years.
const CA_DAYS: i64 = 3652;

/// The keeper's own certificate authority and the certificate of this machine.
#[derive(Clone, Debug)]
pub struct Tls {
    /// The authority's certificate, PEM: what a phone is asked to trust.
    pub ca_pem: String,
    /// SHA-256 of the authority's certificate, in pairs of hex digits, to compare by eye.
    pub fingerprint: String,
    /// The machine's certificate chain, PEM.
    pub chain_pem: String,
    /// The machine's key, PEM.
    pub key_pem: String,
}

#[derive(Serialize, Deserialize)]
struct Leaf {
    names: Vec<String>,
    good_until: i64,
}

impl Tls {
    /// Opens the authority under `folder`, making what is missing: the authority once, the machine's
    /// certificate when its names changed or its time runs out.
    ///
    /// # Errors
    /// When the folder cannot be written or a key in it cannot be read.
    pub fn open(folder: &Path, names: &[String]) -> Result<Self, PageError> {
        Self::open_at(folder, names, OffsetDateTime::now_utc())
    }

    fn open_at(folder: &Path, names: &[String], now: OffsetDateTime) -> Result<Self, PageError> {
        private_folder(folder)?;
        let at = |name: &str| folder.join(name);
        let (ca_pem, key) =
            match (fs::read_to_string(at("authority.pem")), fs::read_to_string(at("authority.key"))) {
                (Ok(pem), Ok(key)) => (pem, KeyPair::from_pem(&key).map_err(PageError::certificate)?),
                (Err(_), Err(_)) => {
                    let key = KeyPair::generate().map_err(PageError::certificate)?;
                    let pem = authority(now).self_signed(&key).map_err(PageError::certificate)?.pem();
                    private_file(&at("authority.key"), key.serialize_pem().as_bytes())?;
                    private_file(&at("authority.pem"), pem.as_bytes())?;
                    (pem, key)
                }
                _ => return Err(PageError::HalfAuthority(folder.to_owned())),
            };
        let written =
            fs::read(at("machine.json")).ok().and_then(|json| serde_json::from_slice::<Leaf>(&json).ok());
        let fresh = written.is_some_and(|leaf| {
            leaf.names == names && leaf.good_until - now.unix_timestamp() > RENEW_DAYS * 86_400
        });
        if !fresh || !at("machine.pem").exists() || !at("machine.key").exists() {
            let until = now + time::Duration::days(LEAF_DAYS);
            let leaf_key = KeyPair::generate().map_err(PageError::certificate)?;
            let issuer = Issuer::new(authority(now), key);
            let leaf =
                machine(names, now, until)?.signed_by(&leaf_key, &issuer).map_err(PageError::certificate)?;
            private_file(&at("machine.key"), leaf_key.serialize_pem().as_bytes())?;
            private_file(&at("machine.pem"), format!("{}{ca_pem}", leaf.pem()).as_bytes())?;
            let told = Leaf { names: names.to_vec(), good_until: until.unix_timestamp() };
            let told = serde_json::to_vec(&told).map_err(|e| PageError::Start(e.to_string()))?;
            private_file(&at("machine.json"), &told)?;
        }
        let read = |name: &str| fs::read_to_string(at(name)).map_err(|e| PageError::file(at(name), e));
        Ok(Self {
            fingerprint: fingerprint(&ca_pem),
            ca_pem,
            chain_pem: read("machine.pem")?,
            key_pem: read("machine.key")?,
        })
    }
}

/// The authority's particulars; its name and key alone decide what it signs, so they may be built again.
fn authority(now: OffsetDateTime) -> CertificateParams {
    let mut params = CertificateParams::default();
    params.distinguished_name.push(DnType::CommonName, "Varvel, this keeper's own authority");
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params.not_before = now - time::Duration::days(1);
    params.not_after = now + time::Duration::days(CA_DAYS);
    let net = |a: [u8; 4], prefix| GeneralSubtree::IpAddress(CidrSubnet::from_v4_prefix(a, prefix));
    let mut unique_local = [0; 16];
    unique_local[0] = 0xfc;
    let mut link_local = [0; 16];
    (link_local[0], link_local[1]) = (0xfe, 0x80);
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: vec![
            GeneralSubtree::DnsName("local".into()),
            GeneralSubtree::DnsName("localhost".into()),
            net([10, 0, 0, 0], 8),
            net([172, 16, 0, 0], 12),
            net([192, 168, 0, 0], 16),
            net([169, 254, 0, 0], 16),
            net([127, 0, 0, 0], 8),
            GeneralSubtree::IpAddress(CidrSubnet::from_v6_prefix(unique_local, 7)),
            GeneralSubtree::IpAddress(CidrSubnet::from_v6_prefix(link_local, 10)),
        ],
        excluded_subtrees: Vec::new(),
    });
    params
}

fn machine(
    names: &[String],
    now: OffsetDateTime,
    until: OffsetDateTime,
) -> Result<CertificateParams, PageError> {
    let mut params = CertificateParams::default();
    params.distinguished_name.push(DnType::CommonName, "Varvel");
    for name in names {
        params.subject_alt_names.push(match name.parse::<IpAddr>() {
            Ok(ip) => SanType::IpAddress(ip),
            Err(_) => SanType::DnsName(name.as_str().try_into().map_err(PageError::certificate)?),
        });
    }
    params.is_ca = IsCa::ExplicitNoCa;
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    params.not_before = now - time::Duration::hours(1);
    params.not_after = until;
    Ok(params)
}

fn fingerprint(pem: &str) -> String {
    let digest = Sha256::digest(der(pem));
    digest.iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" ")
}

/// Takes the bytes out of a PEM text; a phone's settings want them bare.
pub fn der(pem: &str) -> Vec<u8> {
    let mut bits = 0u32;
    let mut held = 0;
    let mut out = Vec::new();
    for c in pem.lines().filter(|l| !l.starts_with("-----")).flat_map(|l| l.trim().bytes()) {
        let six = match c {
            b'A'..=b'Z' => c - b'A',
            b'a'..=b'z' => c - b'a' + 26,
            b'0'..=b'9' => c - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => continue,
        };
        bits = (bits << 6) | u32::from(six);
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push((bits >> held) as u8);
        }
    }
    out
}

/// Makes a folder that only its owner can enter.
pub(crate) fn private_folder(folder: &Path) -> Result<(), PageError> {
    fs::create_dir_all(folder).map_err(|e| PageError::file(folder, e))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(folder, fs::Permissions::from_mode(0o700))
            .map_err(|e| PageError::file(folder, e))?;
    }
    Ok(())
}

/// Writes a file that only its owner can read, whole or not at all.
fn private_file(path: &PathBuf, bytes: &[u8]) -> Result<(), PageError> {
    let half = path.with_extension("half");
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let write = || -> std::io::Result<()> {
        let mut file = options.open(&half)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&half, path)
    };
    write().map_err(|e| PageError::file(path, e))
}

/// Finds this machine's address in the house, without sending anything.
pub fn home_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    // RFC 5737 sets 192.0.2.0/24 aside for documents; naming it only asks the routing table.
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    socket.local_addr().ok().map(|a| a.ip()).filter(|ip| !ip.is_loopback() && !ip.is_unspecified())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_authority_stays_and_the_certificate_is_renewed() {
        let folder = tempfile::tempdir().unwrap();
        let names = ["192.168.1.20".to_owned(), "mews.local".to_owned()];
        let now = OffsetDateTime::now_utc();
        let first = Tls::open_at(folder.path(), &names, now).unwrap();
        let again = Tls::open_at(folder.path(), &names, now + time::Duration::days(300)).unwrap();
        assert_eq!((&first.chain_pem, &first.ca_pem), (&again.chain_pem, &again.ca_pem));
        let moved = Tls::open_at(folder.path(), &["192.168.1.21".to_owned()], now).unwrap();
        assert_eq!(moved.ca_pem, first.ca_pem);
        assert_ne!(moved.chain_pem, first.chain_pem);
        let later =
            Tls::open_at(folder.path(), &["192.168.1.21".to_owned()], now + time::Duration::days(330))
                .unwrap();
        assert_ne!(later.chain_pem, moved.chain_pem);
        #[cfg(unix)]
        for name in ["authority.key", "machine.key"] {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(fs::metadata(folder.path().join(name)).unwrap().permissions().mode() & 0o777, 0o600);
        }
        fs::remove_file(folder.path().join("authority.pem")).unwrap();
        assert!(matches!(Tls::open(folder.path(), &names), Err(PageError::HalfAuthority(_))));
    }
}

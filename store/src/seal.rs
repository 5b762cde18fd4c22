//! Locking files with a passphrase, in the open age format: any `age` program opens them.

use crate::{Result, StoreError};
use std::io::{Read, Write};

/// How an age file begins.
const HEADER: &[u8] = b"age-encryption.org/v1";

/// Shortest passphrase taken, letters.
const SHORTEST: usize = 8;

/// Whether bytes begin like a locked file.
pub fn is_sealed(start: &[u8]) -> bool {
    start.starts_with(HEADER)
}

/// Refuses a passphrase that protects nothing.
pub fn check_passphrase(passphrase: &str) -> Result<()> {
    if passphrase.chars().count() < SHORTEST {
        return Err(StoreError::Passphrase(format!("a passphrase needs at least {SHORTEST} letters")));
    }
    Ok(())
}

#[cfg(feature = "encrypt")]
pub use with_age::{Key, open_sealed, seal};
#[cfg(not(feature = "encrypt"))]
pub use without::{Key, open_sealed, seal};

#[cfg(feature = "encrypt")]
mod with_age {
    use super::*;
    use age::secrecy::{ExposeSecret, SecretString};
    use age::{Decryptor, Encryptor, scrypt, x25519};

    fn trouble(error: impl std::fmt::Display) -> StoreError {
        StoreError::Passphrase(format!("the file cannot be locked or opened: {error}"))
    }

    fn stopped(error: std::io::Error) -> StoreError {
        StoreError::file("the locked file", error)
    }

    /// Locks what is read with a passphrase.
    pub fn seal(passphrase: &str, from: &mut dyn Read, to: &mut dyn Write) -> Result<()> {
        check_passphrase(passphrase)?;
        pour(Encryptor::with_user_passphrase(SecretString::from(passphrase.to_owned())), from, to)
    }

    fn pour(encryptor: Encryptor, from: &mut dyn Read, to: &mut dyn Write) -> Result<()> {
        let mut locked = encryptor.wrap_output(to).map_err(stopped)?;
        std::io::copy(from, &mut locked).map_err(stopped)?;
        locked.finish().map_err(stopped)?.flush().map_err(stopped)
    }

    /// Opens a locked file.
    pub fn open_sealed<'a>(passphrase: &str, from: impl Read + 'a) -> Result<Box<dyn Read + 'a>> {
        let identity = scrypt::Identity::new(SecretString::from(passphrase.to_owned()));
        opened(&identity, from)
    }

    fn opened<'a>(identity: &dyn age::Identity, from: impl Read + 'a) -> Result<Box<dyn Read + 'a>> {
        let decryptor = Decryptor::new(from).map_err(trouble)?;
        match decryptor.decrypt(std::iter::once(identity)) {
            Ok(reader) => Ok(Box::new(reader)),
            Err(
                age::DecryptError::NoMatchingKeys
                | age::DecryptError::KeyDecryptionFailed
                | age::DecryptError::DecryptionFailed,
            ) => Err(StoreError::Passphrase("the passphrase does not open this file".into())),
            Err(other) => Err(trouble(other)),
        }
    }

    /// The key of a backup: locking needs only its open half, so that copies can be added without
    /// the passphrase.
    pub struct Key {
        open_half: x25519::Recipient,
        secret: Option<x25519::Identity>,
    }

    impl Key {
        /// Makes a new key.
        pub fn new() -> Result<Self> {
            let secret = x25519::Identity::generate();
            Ok(Self { open_half: secret.to_public(), secret: Some(secret) })
        }
        /// Reads the open half.
        pub fn from_open_half(text: &str) -> Result<Self> {
            let open_half = text.trim().parse().map_err(|e: &str| trouble(e))?;
            Ok(Self { open_half, secret: None })
        }
        /// Returns the open half as text.
        pub fn open_half(&self) -> String {
            self.open_half.to_string()
        }
        /// Writes the secret half, locked with a passphrase.
        pub fn seal_secret(&self, passphrase: &str) -> Result<Vec<u8>> {
            let secret = self.secret.as_ref().ok_or_else(|| trouble("the secret half is not here"))?;
            let text = secret.to_string();
            let mut out = Vec::new();
            seal(passphrase, &mut text.expose_secret().as_bytes(), &mut out)?;
            Ok(out)
        }
        /// Reads the secret half.
        pub fn open_secret(passphrase: &str, locked: &[u8]) -> Result<Self> {
            let mut text = String::new();
            open_sealed(passphrase, locked)?.read_to_string(&mut text).map_err(stopped)?;
            let secret: x25519::Identity = text.trim().parse().map_err(|e: &str| trouble(e))?;
            Ok(Self { open_half: secret.to_public(), secret: Some(secret) })
        }
        /// Locks what is read.
        pub fn seal(&self, from: &mut dyn Read, to: &mut dyn Write) -> Result<()> {
            let encryptor =
                Encryptor::with_recipients(std::iter::once(&self.open_half as &dyn age::Recipient));
            pour(encryptor.map_err(trouble)?, from, to)
        }
        /// Opens what was locked.
        pub fn open<'a>(&self, from: impl Read + 'a) -> Result<Box<dyn Read + 'a>> {
            let secret = self.secret.as_ref().ok_or_else(|| trouble("the secret half is not here"))?;
            opened(secret, from)
        }
    }
}

#[cfg(not(feature = "encrypt"))]
mod without {
    use super::*;

    fn cannot<T>() -> Result<T> {
        Err(StoreError::Passphrase("this build of Varvel cannot lock files with a passphrase".into()))
    }

    /// Locks what is read with a passphrase; not in this build.
    pub fn seal(_: &str, _: &mut dyn Read, _: &mut dyn Write) -> Result<()> {
        cannot()
    }

    /// Opens a locked file; not in this build.
    pub fn open_sealed<'a>(_: &str, _: impl Read + 'a) -> Result<Box<dyn Read + 'a>> {
        cannot()
    }

    /// The key of a backup; not in this build.
    pub struct Key(());

    #[allow(missing_docs)]
    impl Key {
        pub fn new() -> Result<Self> {
            cannot()
        }
        pub fn from_open_half(_: &str) -> Result<Self> {
            cannot()
        }
        pub fn open_half(&self) -> String {
            String::new()
        }
        pub fn seal_secret(&self, _: &str) -> Result<Vec<u8>> {
            cannot()
        }
        pub fn open_secret(_: &str, _: &[u8]) -> Result<Self> {
            cannot()
        }
        pub fn seal(&self, _: &mut dyn Read, _: &mut dyn Write) -> Result<()> {
            cannot()
        }
        pub fn open<'a>(&self, _: impl Read + 'a) -> Result<Box<dyn Read + 'a>> {
            cannot()
        }
    }
}

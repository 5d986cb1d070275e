//! Nodes that die, hang, flood, lie or never should have come: the room goes on.

use device::{Fault, Note, Payload};
use live::NodeError;
use room::Who;
use scenario::run::Outcome;
use sim::{Stream, What};
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream};

use crate::support::{Stage, TOKEN, device, one};

/// A press that dims, with a sensor and a controller that others play.
fn stage() -> Stage {
    let script = one("private-office/dimmed-by-hand");
    let sensor = device(&script.plan, "wall-sensor");
    let button = device(&script.plan, "wall-button");
    Stage::new(&script, &[sensor, button])
}

/// MessagePack of a short string.
fn text(text: &str) -> Vec<u8> {
    let length = u8::try_from(text.len()).unwrap();
    assert!(length < 32);
    [vec![0xA0 | length], text.as_bytes().to_vec()].concat()
}

fn framed(body: &[u8]) -> Vec<u8> {
    let length = u32::try_from(body.len()).unwrap();
    [&length.to_be_bytes(), body].concat()
}

fn hello(version: u8, name: &str, token: &str) -> Vec<u8> {
    let body = [
        vec![0x94],
        text("hello"),
        vec![version],
        text(name),
        text(token),
    ];
    framed(&body.concat())
}

/// A message that the host sent.
async fn message(stream: &mut DuplexStream) -> Option<Vec<u8>> {
    let length = stream.read_u32().await.ok()?;
    let mut body = vec![0; usize::try_from(length).unwrap()];
    stream.read_exact(&mut body).await.ok()?;
    Some(body)
}

/// The answer to the start, with no effects.
fn done(start: &[u8]) -> Vec<u8> {
    let after = 1 + text("start").len();
    framed(&[&[0x94][..], &text("done"), &start[after..], &[0x90]].concat())
}

/// Who is at fault, and why, in the order of the trace.
fn faults(outcome: &Outcome) -> Vec<(String, Fault)> {
    let fault = |step: &sim::Step| match step.what {
        What::Note(Who::Source(id), Note::Fault(fault)) if fault.is_of_node() => Some((
            outcome.script.plan.sources[usize::from(id.0)].name.clone(),
            fault,
        )),
        _ => None,
    };
    outcome.trace.steps.iter().filter_map(fault).collect()
}

/// Plays with a sensor as it should be and a button that does this once it has joined.
async fn with_button<F: Future<Output = ()> + Send + 'static>(
    act: impl FnOnce(DuplexStream, Vec<u8>) -> F + Send + 'static,
) -> Outcome {
    let stage = stage();
    let good = stage.node(stage.outside[0]);
    let hall = stage.hall.clone();
    let (near, mut far) = tokio::io::duplex(1 << 16);
    hall.receive(near);
    tokio::spawn(async move {
        far.write_all(&hello(1, "wall-button", TOKEN))
            .await
            .unwrap();
        message(&mut far).await.unwrap();
        let start = message(&mut far).await.unwrap();
        act(far, start).await;
    });
    let outcome = stage.play().await;
    assert_eq!(good.await.unwrap(), Ok(()), "the other node is unaffected");
    outcome
}

async fn is_cut_for(outcome: Outcome, fault: Fault) {
    assert_eq!(faults(&outcome), [("wall-button".into(), fault)]);
    let end = outcome.trace.steps.last().unwrap().at;
    assert!(end.as_ms() > 60_000, "the room went on to {end:?}");
    let steps = &outcome.trace.steps;
    assert!(steps.is_sorted_by_key(|step| step.at));
    let causes = steps.iter().zip(0..);
    assert!(
        causes
            .into_iter()
            .all(|(it, at)| it.cause.is_none_or(|cause| cause.number() < at))
    );
}

#[tokio::test(start_paused = true)]
async fn a_node_that_dies_is_gone() {
    let outcome = with_button(|stream, _| async { drop(stream) }).await;
    is_cut_for(outcome, Fault::NodeGone).await;
}

#[tokio::test(start_paused = true)]
async fn a_node_that_hangs_is_silent_after_its_time() {
    let outcome = with_button(|stream, _| async {
        std::future::pending::<()>().await;
        drop(stream);
    });
    is_cut_for(outcome.await, Fault::NodeSilent).await;
}

#[tokio::test(start_paused = true)]
async fn half_a_message_is_silence() {
    let outcome = with_button(|mut stream, start| async move {
        let whole = done(&start);
        stream.write_all(&whole[..whole.len() - 1]).await.unwrap();
        std::future::pending::<()>().await;
    });
    is_cut_for(outcome.await, Fault::NodeSilent).await;
}

#[tokio::test(start_paused = true)]
async fn half_a_message_and_then_nobody_is_gone() {
    let outcome = with_button(|mut stream, start| async move {
        let whole = done(&start);
        stream.write_all(&whole[..whole.len() - 1]).await.unwrap();
    });
    is_cut_for(outcome.await, Fault::NodeGone).await;
}

#[tokio::test(start_paused = true)]
async fn garbage_is_rubbish() {
    for garbage in [
        framed(&[0xC1]),
        framed(&[0x90]),
        framed(&text("done")),
        u32::MAX.to_be_bytes().to_vec(),
        0_u32.to_be_bytes().to_vec(),
        // An array that claims four billion values.
        framed(&[0xDD, 0xFF, 0xFF, 0xFF, 0xFF]),
        // Arrays in arrays, far deeper than any message.
        framed(&[0x91; 60_000]),
    ] {
        let outcome = with_button(|mut stream, _| async move {
            let _cut = stream.write_all(&garbage).await;
            std::future::pending::<()>().await;
        });
        is_cut_for(outcome.await, Fault::NodeRubbish).await;
    }
}

/// A clock that goes backwards: the node answers for a moment that has passed.
#[tokio::test(start_paused = true)]
async fn an_answer_for_another_moment_or_question_is_rubbish() {
    let outcome = with_button(|mut stream, start| async move {
        stream.write_all(&done(&start)).await.unwrap();
        // The start was asked about moment 0; whatever comes later is answered for it.
        while let Some(later) = message(&mut stream).await {
            let word = usize::from(later[1] & 0x1F) + 2;
            let number = &later[word..=word];
            let head = [&[0x94][..], &text("done"), number, &[0x00, 0x90]];
            if stream.write_all(&framed(&head.concat())).await.is_err() {
                return;
            }
        }
    });
    is_cut_for(outcome.await, Fault::NodeRubbish).await;
}

#[tokio::test(start_paused = true)]
async fn a_node_that_says_more_than_it_is_asked_floods() {
    let outcome = with_button(|mut stream, start| async move {
        let answer = done(&start);
        // Until the host stops listening; nothing of it is kept.
        while stream.write_all(&answer).await.is_ok() {}
    });
    is_cut_for(outcome.await, Fault::NodeFloods).await;
}

#[tokio::test(start_paused = true)]
async fn a_wrong_version_is_named_and_not_waited_for() {
    let stage = stage();
    let good = stage.node(stage.outside[0]);
    let mut stream = stage.connect();
    stream
        .write_all(&hello(2, "wall-button", TOKEN))
        .await
        .unwrap();
    let outcome = stage.play().await;
    is_cut_for(outcome, Fault::NodeVersion).await;
    let refused = message(&mut stream).await.unwrap();
    assert!(refused[1..].starts_with(&text("refused")));
    assert_eq!(good.await.unwrap(), Ok(()));
}

#[tokio::test(start_paused = true)]
async fn whoever_has_no_token_or_no_device_is_no_fault_of_anybody() {
    let stage = stage();
    let mut strangers = Vec::new();
    for said in [
        hello(1, "wall-button", "guessed"),
        hello(1, "kettle", TOKEN),
        framed(&[0x91, 0x01]),
    ] {
        let mut stream = stage.connect();
        stream.write_all(&said).await.unwrap();
        strangers.push(stream);
    }
    let good = stage.nodes();
    stage.plays_as_inside().await;
    for node in good {
        assert_eq!(node.await.unwrap(), Ok(()));
    }
}

#[tokio::test(start_paused = true)]
async fn a_second_node_for_one_device_is_refused() {
    let stage = stage();
    let good = stage.nodes();
    // The hall is a queue: whoever comes later is seated later.
    let again = stage.node(stage.outside[1]);
    stage.plays_as_inside().await;
    let refused = NodeError::Refused("this device has joined already".into());
    assert_eq!(again.await.unwrap(), Err(refused));
    for node in good {
        assert_eq!(node.await.unwrap(), Ok(()));
    }
}

/// Connections by the thousand, most of them without a word, hold up nobody and nothing.
#[tokio::test(start_paused = true)]
async fn a_storm_of_connections_leaves_the_run_as_it_is() {
    let stage = stage();
    let good = stage.nodes();
    let hall = stage.hall.clone();
    let storm = tokio::spawn(async move {
        let mut open = Vec::new();
        for number in 0..5_000_u32 {
            let (near, mut far) = tokio::io::duplex(256);
            hall.receive(near);
            if number.is_multiple_of(3) {
                let _turned_away = far.write_all(&hello(1, "wall-button", TOKEN)).await;
            }
            if number.is_multiple_of(2) {
                open.push(far);
            }
            tokio::task::yield_now().await;
        }
    });
    stage.plays_as_inside().await;
    for node in good {
        assert_eq!(node.await.unwrap(), Ok(()));
    }
    storm.abort();
}

/// A node that comes again after it was cut off plays its device from then on.
#[tokio::test(start_paused = true)]
async fn a_node_may_come_back() {
    let stage = stage();
    let sensor = stage.node(stage.outside[0]);
    let mut first = stage.connect();
    let part = live::Part::of_script(&stage.script, stage.outside[1]);
    let hall = stage.hall.clone();
    let again = tokio::spawn(async move {
        first
            .write_all(&hello(1, "wall-button", TOKEN))
            .await
            .unwrap();
        message(&mut first).await.unwrap();
        let start = message(&mut first).await.unwrap();
        first.write_all(&done(&start)).await.unwrap();
        message(&mut first).await.unwrap();
        drop(first);
        // Refused until the host has noticed that the first one is gone.
        loop {
            let (near, far) = tokio::io::duplex(1 << 16);
            hall.receive(near);
            match live::serve(part.clone(), TOKEN, far).await {
                Err(NodeError::Refused(_) | NodeError::Ended) => tokio::task::yield_now().await,
                served => return served,
            }
        }
    });
    let outcome = stage.play().await;
    assert_eq!(again.await.unwrap(), Ok(()));
    assert_eq!(sensor.await.unwrap(), Ok(()));
    let steps = &outcome.trace.steps;
    let back =
        |step: &&sim::Step| matches!(step.what, What::Note(_, Note::FaultEnded(Fault::NodeGone)));
    let back = steps.iter().find(back).unwrap().at;
    assert_eq!(faults(&outcome)[0], ("wall-button".into(), Fault::NodeGone));
    let sent = |step: &&sim::Step| matches!(step.what, What::Sent(_, _, Payload::Down(_)));
    let pressed = steps.iter().filter(sent).map(|step| step.at);
    assert!(pressed.into_iter().any(|at| at > back), "back at {back:?}");
}

/// A hundred thousand hellos that are nearly right: the host lives, turns them away, and a run
/// afterwards is what it always is.
#[tokio::test(start_paused = true)]
async fn a_hundred_thousand_malformed_messages_do_no_harm() {
    let mut luck = Stream::from_seed(1);
    let right = hello(1, "wall-button", TOKEN);
    let stage = stage();
    let mut turned_away = 0;
    while turned_away < 100_000 {
        let mut bytes = right.clone();
        for _ in 0..=luck.below(3) {
            let place = usize::try_from(luck.below(bytes.len() as u64)).unwrap();
            bytes[place] ^= u8::try_from(1 + luck.below(255)).unwrap();
        }
        if luck.below(4) == 0 {
            let end = luck.below(bytes.len() as u64);
            bytes.truncate(usize::try_from(end).unwrap());
        }
        // Two changes of one place may undo each other; another version is a fault by itself.
        let but_version = |bytes: &[u8]| bytes.len() == right.len() && bytes[12..] == right[12..];
        if but_version(&bytes) && bytes[..11] == right[..11] {
            continue;
        }
        turned_away += 1;
        let (near, mut far) = tokio::io::duplex(1 << 10);
        stage.hall.receive(near);
        far.write_all(&bytes).await.unwrap();
        drop(far);
        // The greeting of this stranger has its turn.
        tokio::task::yield_now().await;
    }
    let good = stage.outside.clone();
    let good: Vec<_> = good.into_iter().map(|it| stage.node(it)).collect();
    stage.plays_as_inside().await;
    for node in good {
        assert_eq!(node.await.unwrap(), Ok(()));
    }
}

//! A room that runs freely: wall time, words of its nodes' own, readers.

use std::time::Duration;

use device::{Payload, Span};
use live::{Feed, Hall, Heard, Host, Part, Publisher, serve};
use room::{Device, Input, SourceId, Stimulus};
use sim::{Instant, Quality, What};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio_stream::StreamExt;

use crate::support::{TOKEN, device, one, setting};

/// The moment of the first step that is this, as a reader hears it.
async fn first(feed: &mut live::Subscription, is_it: impl Fn(&What) -> bool) -> Instant {
    loop {
        if let Some(Heard::Moment(moment)) = feed.next().await
            && moment.steps.iter().any(|step| is_it(&step.what))
        {
            return moment.at;
        }
    }
}

#[tokio::test(start_paused = true)]
async fn a_room_keeps_time_with_the_wall_at_its_speed() {
    let script = one("private-office/quiet-reading");
    let sensor = device(&script.plan, "wall-sensor");
    let Device::Source(source) = sensor else {
        panic!("a sensor is a source");
    };
    let (hall, door) = Hall::new(&script.plan, TOKEN, Duration::from_secs(2));
    let feed = Feed::new(64);
    let mut heard = feed.subscribe();
    let setting = setting(&script.plan, &[sensor]);
    let host = Host::new(setting, |_, _| Quality::default(), door, feed);
    let (near, far) = tokio::io::duplex(1 << 16);
    hall.receive(near);
    let part = Part::of_room(script.plan.clone(), sensor);
    let node = tokio::spawn(async move { serve(part, TOKEN, far).await });
    let (publisher, commands) = Publisher::new();
    let room = tokio::spawn(host.run_freely(60, commands));
    // The node is seated before anything happens: the room begins without it and takes it back.
    first(&mut heard, |what| matches!(what, What::Power(_, true))).await;
    let begun = tokio::time::Instant::now();
    let motion = Input::Stimulus(source, Stimulus::Motion);
    publisher.publish(motion).await.unwrap();
    let vacant = |what: &What| matches!(what, What::Sent(id, _, Payload::Vacant) if *id == source);
    let moved = first(&mut heard, |what| matches!(what, What::Stimulus(..))).await;
    let left = first(&mut heard, vacant).await;
    // 15 min at 60 times the speed are 15 s, to the quarter of a second.
    let delay = left.since(moved);
    assert!(delay >= Span::from_minutes(15), "{delay:?}");
    let taken = begun.elapsed();
    assert!((14..=16).contains(&taken.as_secs()), "{taken:?}");
    publisher.stop().await.unwrap();
    let simulation = room.await.unwrap();
    assert!(simulation.now() >= left);
    assert_eq!(node.await.unwrap(), Ok(()));
}

#[tokio::test(start_paused = true)]
async fn a_source_may_speak_of_its_own_accord() {
    let script = one("private-office/quiet-reading");
    let button = device(&script.plan, "wall-button");
    let (hall, door) = Hall::new(&script.plan, TOKEN, Duration::from_secs(2));
    let feed = Feed::new(64);
    let mut heard = feed.subscribe();
    let setting = setting(&script.plan, &[button]);
    let host = Host::new(setting, |_, _| Quality::default(), door, feed);
    let (publisher, commands) = Publisher::new();
    let room = tokio::spawn(host.run_freely(1, commands));
    let (near, mut far) = tokio::io::duplex(1 << 16);
    hall.receive(near);
    let text = |text: &str| [&[0xA0 | text.len() as u8], text.as_bytes()].concat();
    let framed =
        |body: Vec<u8>| [&u32::try_from(body.len()).unwrap().to_be_bytes()[..], &body].concat();
    let hello = [
        vec![0x94],
        text("hello"),
        vec![1],
        text("wall-button"),
        text(TOKEN),
    ];
    far.write_all(&framed(hello.concat())).await.unwrap();
    // Answers everything with nothing, and presses its button once by itself.
    tokio::spawn(async move {
        let mut spoke = false;
        while let Ok(length) = far.read_u32().await {
            let mut body = vec![0; usize::try_from(length).unwrap()];
            far.read_exact(&mut body).await.unwrap();
            let word = usize::from(body[1] & 0x1F) + 2;
            if body[1..].starts_with(&text("welcome")) {
                continue;
            }
            let rest = &body[word..];
            // Number and moment are as many bytes as MessagePack takes for them.
            let width = |code: u8| match code {
                0xCC => 2,
                0xCD => 3,
                0xCE => 5,
                0xCF => 9,
                _ => 1,
            };
            let number = width(rest[0]);
            let both = number + width(rest[number]);
            let done = [&[0x94][..], &text("done"), &rest[..both], &[0x90]].concat();
            far.write_all(&framed(done)).await.unwrap();
            if !spoke {
                spoke = true;
                let frame = [
                    vec![0x95, 1],
                    text("wall-button"),
                    vec![0],
                    text("down"),
                    vec![0],
                ];
                let own = [vec![0x92], text("frame"), frame.concat()].concat();
                far.write_all(&framed(own)).await.unwrap();
            }
        }
    });
    let down = |what: &What| matches!(what, What::Arrived(_, SourceId(_), Payload::Down(0)));
    first(&mut heard, down).await;
    publisher.stop().await.unwrap();
    room.await.unwrap();
}

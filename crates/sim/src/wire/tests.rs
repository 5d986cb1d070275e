//! The wire form: there and back, by the byte, and against anything else.

use super::*;
use proptest::prelude::*;

fn message(source: &str, sequence: u8, payload: Payload) -> Message {
    Message {
        source: source.into(),
        frame: Frame { sequence, payload },
    }
}

fn payloads() -> impl Strategy<Value = Payload> {
    prop_oneof![
        any::<bool>().prop_map(|bright| Payload::Occupied { bright }),
        Just(Payload::Vacant),
        Just(Payload::Unknown),
        any::<u8>().prop_map(Payload::Down),
        any::<u8>().prop_map(Payload::Up),
        Just(Payload::CardIn),
        Just(Payload::CardOut),
        Just(Payload::WrongCard),
        any::<u32>().prop_map(|seen| Payload::Illuminance(Illuminance::from_hundredths(seen))),
        Just(Payload::InHours),
        Just(Payload::AfterHours),
        Just(Payload::Sweep),
        Just(Payload::TimeLost),
        any::<bool>().prop_map(|on| Payload::Signal(Signal::NormalPower, on)),
        any::<bool>().prop_map(|on| Payload::Signal(Signal::FireAlarm, on)),
        Just(Payload::Shed(None)),
        (0_u16..=10_000).prop_map(|points| Payload::Shed(Some(Points::from_hundredths(points)))),
        Just(Payload::ShedEnd),
        Just(Payload::TeachIn),
    ]
}

fn messages() -> impl Strategy<Value = Message> {
    ("[a-zé-]{1,40}", any::<u8>(), payloads())
        .prop_map(|(source, sequence, payload)| message(&source, sequence, payload))
}

/// The bytes were put together by hand from the MessagePack specification.
#[test]
fn a_vacant_frame_has_the_bytes_of_the_table() {
    let written = message("wall", 17, Payload::Vacant).encode().unwrap();
    let by_hand = b"\x94\x01\xa4wall\x11\xa6vacant";
    assert_eq!(written, by_hand);
}

#[test]
fn each_kind_of_value_has_the_bytes_of_the_table() {
    let bytes = |payload| message("s", 255, payload).encode().unwrap();
    assert_eq!(
        bytes(Payload::Occupied { bright: true }),
        b"\x95\x01\xa1s\xcc\xff\xa8occupied\xc3"
    );
    assert_eq!(
        bytes(Payload::Down(3)),
        b"\x95\x01\xa1s\xcc\xff\xa4down\x03"
    );
    assert_eq!(
        bytes(Payload::Illuminance(Illuminance::from_lux(500))),
        b"\x95\x01\xa1s\xcc\xff\xabilluminance\xcd\xc3\x50"
    );
    assert_eq!(
        bytes(Payload::Shed(None)),
        b"\x95\x01\xa1s\xcc\xff\xa4shed\xc0"
    );
}

#[test]
fn wider_forms_of_numbers_and_strings_are_taken() {
    let wide = b"\xdc\x00\x04\xcf\0\0\0\0\0\0\0\x01\xdb\0\0\0\x04wall\xd1\x00\x11\xd9\x06vacant";
    assert_eq!(
        Message::decode(wide),
        Ok(message("wall", 17, Payload::Vacant))
    );
}

#[test]
fn another_version_is_said_to_be_one() {
    let bytes = b"\x94\x02\xa4wall\x11\xa6vacant";
    assert_eq!(Message::decode(bytes), Err(DecodeError::Version(2)));
}

#[test]
fn each_wrong_value_is_named() {
    let error = |bytes: &[u8]| Message::decode(bytes).unwrap_err();
    assert_eq!(error(b"\x94\x01\xa0\x11\xa6vacant"), DecodeError::Source);
    assert_eq!(error(b"\x94\x01\x07\x11\xa6vacant"), DecodeError::Source);
    assert_eq!(
        error(b"\x94\x01\xa1s\xcd\x01\x00\xa6vacant"),
        DecodeError::Sequence
    );
    assert_eq!(
        error(b"\x94\x01\xa1s\x11\xa4gone"),
        DecodeError::Kind("gone".into())
    );
    assert_eq!(
        error(b"\x93\x01\xa1s\x11"),
        DecodeError::Kind(String::new())
    );
    let carries = |kind: &str| DecodeError::Carries(kind.into());
    assert_eq!(error(b"\x94\x01\xa1s\x11\xa8occupied"), carries("occupied"));
    assert_eq!(error(b"\x95\x01\xa1s\x11\xa6vacant\x01"), carries("vacant"));
    assert_eq!(
        error(b"\x95\x01\xa1s\x11\xa4down\xcd\x01\x00"),
        carries("down")
    );
    assert_eq!(
        error(b"\x95\x01\xa1s\x11\xa4shed\xcd\x27\x11"),
        carries("shed")
    );
    assert_eq!(
        error(b"\x94\x01\xa1s\x11\xa6vacant\xc0"),
        DecodeError::Trailing(1)
    );
}

#[test]
fn a_length_that_is_not_there_takes_no_memory() {
    for bomb in [
        b"\xdd\xff\xff\xff\xff\x01".as_slice(),
        b"\x94\x01\xdb\xff\xff\xff\xff",
        b"\x94\x01\xc6\xff\xff\xff\xff",
        b"\xdf\xff\xff\xff\xff",
        b"\x94\x01\xc9\xff\xff\xff\xff\x01",
        &[0x91; 100_000],
    ] {
        assert!(matches!(Message::decode(bomb), Err(DecodeError::Shape(_))));
    }
}

#[test]
fn a_message_without_a_name_cannot_be_written() {
    let nameless = message("", 0, Payload::Vacant);
    assert_eq!(nameless.encode(), Err(EncodeError::Source));
    let long = message(&"x".repeat(256), 0, Payload::Vacant);
    assert_eq!(long.encode(), Err(EncodeError::Source));
    assert!(
        message(&"x".repeat(255), 0, Payload::Vacant)
            .encode()
            .is_ok()
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn what_is_written_is_read(message in messages()) {
        let bytes = message.encode().unwrap();
        prop_assert_eq!(Message::decode(&bytes), Ok(message));
    }

    #[test]
    fn a_frame_cut_short_is_no_frame(message in messages(), cut in any::<prop::sample::Index>()) {
        let bytes = message.encode().unwrap();
        let cut = cut.index(bytes.len());
        prop_assert!(Message::decode(&bytes[..cut]).is_err());
    }

    #[test]
    fn a_changed_byte_never_panics_and_is_read_as_written(
        message in messages(),
        place in any::<prop::sample::Index>(),
        byte in any::<u8>(),
    ) {
        let mut bytes = message.encode().unwrap();
        let place = place.index(bytes.len());
        bytes[place] = byte;
        if let Ok(read) = Message::decode(&bytes) {
            prop_assert_eq!(Message::decode(&read.encode().unwrap()), Ok(read));
        }
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..64)) {
        if let Ok(read) = Message::decode(&bytes) {
            prop_assert_eq!(Message::decode(&read.encode().unwrap()), Ok(read));
        }
    }
}

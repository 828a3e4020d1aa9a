"""The pages of the demo over real processes: replies come by the signed hook, time moves, data stay."""

from __future__ import annotations

import re
import shutil
import socket
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import httpx
import pytest

from bot.core.errors import DunnockError
from bot.demo.folder import Folder, open_folder
from tests.support.database import opened, upgraded
from tests.support.demo import running_demo, start, two_free_ports
from tests.support.ward import open_ward

MARIAM, ZAWADI, ROSE = "+447700900120", "+447700900102", "+447700900108"
WITHIN_S = 60  # the clock may have a day to live through, with all that is due in it


@pytest.fixture(scope="module")
def data(district: Folder, tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy: Path = tmp_path_factory.mktemp("running") / "district"
    shutil.copytree(district.path, copy)
    return copy


@pytest.fixture(scope="module")
def demo(data: Path) -> Iterator[httpx.Client]:
    with running_demo(data) as address, httpx.Client(base_url=address, trust_env=False, timeout=30) as client:
        yield client


def send(demo: httpx.Client, page: str, address: str, **fields: str) -> httpx.Response:
    """Send a form as the page that holds it would."""
    token = re.search(r'name="csrf_token" value="([^"]+)"', demo.get(page).text)
    assert token is not None
    answer = demo.post(address, data={"csrf_token": token[1], **fields})
    assert answer.status_code == 303, answer.text
    return answer


def eventually(holds: Callable[[], bool]) -> bool:
    until = time.monotonic() + WITHIN_S
    while not holds():
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return True


def texts_on(demo: httpx.Client, number: str) -> list[str]:
    screen = demo.get(f"/demo/phones/{number}/screen").text
    return re.findall(r'<p dir="auto">(.*?)</p>', screen, re.DOTALL)


def test_the_handsets_need_no_sign_in_and_stand_in_her_script(demo: httpx.Client) -> None:
    page = demo.get(f"/demo/phones/{MARIAM}")
    assert page.status_code == 200
    assert 'lang="ar" dir="rtl"' in page.text
    assert "مريم الخولي" in demo.get("/demo/phones").text


def test_a_reply_comes_back_through_the_signed_hook_and_is_answered(demo: httpx.Client) -> None:
    page = f"/demo/phones/{MARIAM}"
    before = texts_on(demo, MARIAM)
    send(demo, page, page, text="٩ مرات")
    assert eventually(lambda: len(texts_on(demo, MARIAM)) >= len(before) + 2)
    after = texts_on(demo, MARIAM)
    assert after[len(before)] == "٩ مرات"
    assert "حفاض" in after[-1]  # the next question: wet nappies
    assert "sent, arrived" in demo.get(page, headers={"accept-language": "en"}).text


def test_an_unchanged_screen_is_left_alone(demo: httpx.Client) -> None:
    screen = demo.get(f"/demo/phones/{ROSE}/screen").text
    again = re.search(r'hx-get="([^"]+)"', screen)
    assert again is not None
    assert demo.get(again[1].replace("&amp;", "&")).status_code == 204


def test_the_clock_moves_to_her_next_text(demo: httpx.Client) -> None:
    before = texts_on(demo, ZAWADI)
    send(demo, "/demo/phones", "/demo/clock", to="next", number=ZAWADI, back="/demo/phones")
    assert eventually(lambda: len(texts_on(demo, ZAWADI)) > len(before))


def test_her_phone_and_her_story_stamp_a_text_alike(demo: httpx.Client) -> None:
    """The move leaps hours: a stand-in that hears of it too late would stamp the text with the old time."""
    page = f"/demo/phones/{ZAWADI}"
    # A wish is not taken while the clock still moves for the one before.
    assert eventually(lambda: '<button name="to"' in demo.get(page).text)
    seen = len(texts_on(demo, ZAWADI))
    send(demo, page, "/demo/clock", to="next", number=ZAWADI, back=page)
    assert eventually(
        lambda: len(texts_on(demo, ZAWADI)) > seen and '<button name="to"' in demo.get(page).text
    )
    now = re.search(r'<time datetime="([^"]+)"', demo.get(page).text)
    assert now is not None
    local = datetime.fromisoformat(now[1]).astimezone(ZoneInfo("Africa/Nairobi"))
    minutes = {f"{local - timedelta(minutes=ago):%H:%M}" for ago in (0, 1)}
    stamps = re.findall(r"(\d\d:\d\d) ·", demo.get(f"{page}/screen").text)
    assert stamps[-1] in minutes


def test_the_clock_leads_nowhere_else(demo: httpx.Client) -> None:
    for back in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example"):
        assert send(demo, "/demo/phones", "/demo/clock", to="", back=back).headers["location"] == "/"


def test_in_a_broken_network_nothing_is_lost_and_nothing_counts_twice(demo: httpx.Client) -> None:
    for trouble in ("double", "reorder", "delay"):
        send(demo, "/demo/network", "/demo/network", trouble=trouble)
    page = demo.get("/demo/network", headers={"accept-language": "en"}).text
    assert "Everything comes twice." in page
    assert "Reports come in the wrong order." in page
    assert "Every answer takes 4000 milliseconds." in page
    before = texts_on(demo, ZAWADI)
    send(demo, f"/demo/phones/{ZAWADI}", f"/demo/phones/{ZAWADI}", text="please call me")
    assert eventually(lambda: len(texts_on(demo, ZAWADI)) > len(before) + 1)
    send(demo, "/demo/network", "/demo/network", trouble="none")
    assert "The network works." in demo.get("/demo/network", headers={"accept-language": "en"}).text
    time.sleep(1)  # a second answer to the doubled reply would be here by then
    assert texts_on(demo, ZAWADI)[len(before)] == "please call me"
    assert len(texts_on(demo, ZAWADI)) == len(before) + 2


def test_while_the_gateway_denies_the_program_the_second_one_carries_the_texts(demo: httpx.Client) -> None:
    send(demo, "/demo/network", "/demo/network", trouble="deny")
    before = len(texts_on(demo, ZAWADI))
    send(demo, f"/demo/phones/{ZAWADI}", f"/demo/phones/{ZAWADI}", text="please call me soon")
    assert eventually(lambda: len(texts_on(demo, ZAWADI)) > before + 1)
    send(demo, "/demo/network", "/demo/network", trouble="none")


def test_a_call_a_text_in_parts_and_a_stranger_come_in(demo: httpx.Client) -> None:
    before = len(texts_on(demo, ZAWADI))
    for visitor in ("parts", "unknown", "advert", "ring"):
        send(demo, "/demo/network", "/demo/network/visitors", visitor=visitor, number=ZAWADI)
    assert eventually(lambda: any("Go now" in text for text in texts_on(demo, ZAWADI)[before:]))


def test_a_forged_form_is_refused(demo: httpx.Client) -> None:
    assert demo.post(f"/demo/phones/{ROSE}", data={"text": "x"}).status_code == 400


def test_a_number_that_nobody_has_is_not_there(demo: httpx.Client) -> None:
    assert demo.get("/demo/phones/+447700900777").status_code == 404


def test_no_other_database_has_these_pages(tmp_path: Path) -> None:
    with opened(upgraded(f"sqlite:///{tmp_path / 'ward.db'}")) as store:
        client = open_ward(store).app().test_client()
        assert [client.get(path).status_code for path in ("/demo/phones", "/demo/network")] == [404, 404]
        assert client.post("/demo/clock").status_code in (400, 404)


def test_the_next_start_goes_on_from_there(district: Folder, tmp_path: Path) -> None:
    copy = tmp_path / "district"
    shutil.copytree(district.path, copy)
    with running_demo(copy) as address, httpx.Client(base_url=address, trust_env=False, timeout=30) as client:
        send(client, "/demo/phones", f"/demo/phones/{ROSE}", text="she opens her eyes now")
        stood = client.get("/demo/phones").text
    with running_demo(copy) as address, httpx.Client(base_url=address, trust_env=False, timeout=30) as client:
        assert "she opens her eyes now" in texts_on(client, ROSE)
        day = re.search(r'<time datetime="(\d{4}-\d\d-\d\d)', client.get("/demo/phones").text)
        before = re.search(r'<time datetime="(\d{4}-\d\d-\d\d)', stood)
        assert day is not None
        assert before is not None
        assert day[1] == before[1] == "2026-03-03"


def test_a_busy_port_is_one_clear_message(tmp_path: Path) -> None:
    port = two_free_ports()
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", port + 1))
        busy.listen()
        said, _ = start(tmp_path / "demo", port).communicate(timeout=60)
    assert f"Port {port + 1} can't be used" in said
    assert "--port" in said
    assert "Traceback" not in said
    assert not (tmp_path / "demo").exists()


def test_a_folder_with_other_things_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(DunnockError, match=r"thesis\.txt"):
        open_folder(tmp_path, fresh=True)
    assert (tmp_path / "thesis.txt").exists()

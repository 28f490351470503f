"""Files that make the library open other files are no films: refused before anything they name is opened."""

from pathlib import Path

import av
import pytest

from serve_marker.errors import UserError
from serve_marker.video.clip import open_clip
from serve_marker.video.glance import glance
from serve_marker.video.opening import open_container


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """A film that a list of files can name."""
    path = tmp_path / "film.ts"
    with av.open(str(path), "w", format="mpegts") as container:
        stream = container.add_stream("mpeg2video", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for _ in range(25):
            for packet in stream.encode(av.VideoFrame(64, 48, "yuv420p")):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)
    return path


LISTS = {
    "list.ffconcat": "ffconcat version 1.0\nfile {name}\n",
    "list.mp4": "ffconcat version 1.0\nfile {name}\n",
    "list.m3u8": "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:1,\n{name}\n#EXT-X-ENDLIST\n",
    "list.mkv": "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:1,\n{name}\n#EXT-X-ENDLIST\n",
    "list.sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 5004 RTP/AVP 96\n",
    "film%d.png": "no picture",
    "words.txt": "only words " * 99,
}


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize("opened", [open_clip, glance, open_container])
def test_a_list_of_other_files_is_no_film(film: Path, name: str, opened: object) -> None:
    path = film.with_name(name)
    path.write_text(LISTS[name].format(name=film.name))

    with pytest.raises(UserError, match="is not a video that can be read; choose a video file"):
        opened(path)  # type: ignore[operator]


def test_the_library_alone_would_open_them(film: Path) -> None:
    """What is refused above is not refused for being broken."""
    path = film.with_name("list.mp4")
    path.write_text(LISTS["list.mp4"].format(name=film.name))

    with av.open(str(path)) as container:
        assert container.streams.video[0].width == 64


def test_a_film_is_opened(film: Path) -> None:
    assert open_clip(film).frame_count == 25

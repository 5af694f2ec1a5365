"""A message that cannot go out is named and set aside; the others go on over one connection."""

import asyncio

from logger.publish.broker_link import LONGEST_TOPIC, BrokerLink
from logger.publish.credentials import Credentials
from logger.publish.topics import Message
from tests.support.mqtt_bench import BENCH, Bench, estimate, raised, settings_for


async def test_a_topic_that_no_broker_takes_is_named_and_the_rest_goes_on(broker, listening):
    bench = Bench(settings_for(broker))
    async with bench.running(), listening(broker) as ear:
        await bench.until_health(ok=True)
        for name in ("jar-a-hand-wall-2e+07", "w" * LONGEST_TOPIC):
            bench.take([estimate(41.0, name)])
        await bench.until_reason("jar-a-hand-wall-2e+07 cannot be sent: its topic is none")
        bench.take([raised(), estimate(42.0)])
        await ear.hear("/phone")
        await ear.hear("channel/wall")
        assert ear.of("status") == ["online"]  # one connection through all of it
    assert broker.log.count(f"as wickbench-{BENCH} ") == 1


async def test_what_is_larger_than_the_broker_takes_is_set_aside(start_broker, listening):
    broker = start_broker("allow_anonymous true", "max_packet_size 2000")
    bench = Bench(settings_for(broker))
    bench.shelf.add(1)
    bench.shelf.add(1, "x" * 3000)
    bench.shelf.add(1)
    async with bench.running(), listening(broker) as ear:
        await bench.until_reason("the broker takes 2000 bytes at most")
        await bench.shelf.until_marked(2)
        assert bench.shelf.marked == {0, 2}
        bench.take([raised()])
        await ear.hear("/phone")
    assert broker.log.count(f"as wickbench-{BENCH} ") == 1
    broker.kill()


async def test_a_phone_that_the_broker_refuses_is_tried_again_once_it_may(start_broker, listening):
    acl = "topic readwrite #\ntopic deny wickbench/back-room/phone\n"
    broker = start_broker("allow_anonymous true", "acl_file acl", files={"acl": acl})
    bench = Bench(settings_for(broker))
    async with bench.running(), listening(broker) as ear:
        bench.take([raised(), estimate(41.0)])
        await bench.until_reason("refuses what goes to wickbench/back-room/phone")
        await ear.hear("channel/wall")
        await ear.hear("wall-limit/wall")
        (broker.folder / "acl").write_text("topic readwrite #\n")
        broker.reload()
        await ear.hear("/phone")
        await bench.until_health(ok=True)
    assert broker.log.count(f"as wickbench-{BENCH} ") == 1
    broker.kill()


async def test_commands_that_the_broker_does_not_pass_on_leave_alarms_alone(
    start_broker, listening
):
    acl = "topic readwrite #\ntopic deny wickbench/back-room/do/+\n"
    broker = start_broker("allow_anonymous true", "acl_file acl", files={"acl": acl})
    bench = Bench(settings_for(broker, commands=True))
    async with bench.running(), listening(broker) as ear:
        bench.take([raised()])
        await ear.hear("/phone")
    broker.kill()


async def test_a_connection_that_closes_while_writing_leaves_no_traceback(broker):
    faults = []
    loop = asyncio.get_running_loop()
    loop.set_exception_handler(lambda _, context: faults.append(context))
    settings = settings_for(broker)
    for _ in range(5):
        link = BrokerLink(settings, Credentials.read(settings), "wickbench-closing")
        await link.open(5.0)
        sending = asyncio.create_task(link.send(Message(topic="a", payload=b"b")))
        await asyncio.sleep(0)
        await link.drop()  # in the turn in which the loop was asked to watch the socket
        sending.cancel()
        await asyncio.wait({sending})
    assert faults == []

using System.Collections.Concurrent;
using CsCheck;

namespace LaserWatch.Mqtt;

public class PayloadPagesTests
{
    [Fact]
    public void What_was_copied_stays_as_it_was_until_it_is_given_back() =>
        (from length in Gen.Frequency((20, Gen.Int[0, 60]), (2, Gen.Int[0, PayloadPages.PageBytes / 2]))
         from givenBack in Gen.Int[0, 3]
         from which in Gen.Int[0, int.MaxValue]
         select (Length: length, GivenBack: givenBack, Which: which)).List[0, 1500].Sample(steps =>
         {
             var pages = new PayloadPages();
             var waiting = new List<(ReadOnlyMemory<byte> Payload, PayloadPage? Page, byte[] Sent)>();
             var next = 0;
             foreach (var (length, givenBack, which) in steps)
             {
                 var sent = new byte[length];
                 for (var i = 0; i < length; i++)
                     sent[i] = (byte)(next++ * 31);
                 var (payload, page) = pages.Copy(sent);
                 waiting.Add((payload, page, sent));
                 for (var i = 0; i < givenBack && waiting.Count > 0; i++)
                 {
                     var place = which % waiting.Count;
                     if (!waiting[place].Payload.Span.SequenceEqual(waiting[place].Sent))
                         return false;
                     waiting[place].Page?.GiveBack();
                     waiting.RemoveAt(place);
                 }
             }

             return waiting.All(w => w.Payload.Span.SequenceEqual(w.Sent));
         });

    [Fact]
    public void A_page_is_filled_again_once_all_of_it_was_read()
    {
        var pages = new PayloadPages();
        var seen = new HashSet<PayloadPage>();
        var waiting = new Queue<PayloadPage>();
        for (var i = 0; i < 100_000; i++)
        {
            var page = pages.Copy("18.14"u8).Page!;
            seen.Add(page);
            waiting.Enqueue(page);
            if (waiting.Count > 5000)
                waiting.Dequeue().GiveBack();
        }

        Assert.InRange(seen.Count, 2, (5000 * 5 / PayloadPages.PageBytes) + 2);
    }

    [Fact]
    public void Empty_payloads_never_use_up_a_page_that_is_still_filled()
    {
        var pages = new PayloadPages();
        for (var i = 0; i < 3 * PayloadPages.PageBytes; i++)
            pages.Copy(default).Page!.GiveBack();
        var (one, _) = pages.Copy("one"u8);
        var (other, _) = pages.Copy("other"u8);
        Assert.Equal("one"u8.ToArray(), one.ToArray());
        Assert.Equal("other"u8.ToArray(), other.ToArray());
    }

    [Fact]
    public void A_long_payload_has_an_array_of_its_own() =>
        Assert.Null(new PayloadPages().Copy(new byte[(PayloadPages.PageBytes / 4) + 1]).Page);

    [Fact]
    public async Task One_thread_copies_while_another_reads_and_gives_back()
    {
        var pages = new PayloadPages();
        using var waiting = new BlockingCollection<(ReadOnlyMemory<byte> Payload, PayloadPage Page, int Sent)>(3000);
        var reading = Task.Run(() =>
        {
            foreach (var (payload, page, sent) in waiting.GetConsumingEnumerable())
            {
                Assert.Equal(sent, BitConverter.ToInt32(payload.Span));
                page.GiveBack();
            }
        });
        for (var i = 0; i < 300_000; i++)
        {
            var (payload, page) = pages.Copy(BitConverter.GetBytes(i));
            waiting.Add((payload, page!, i));
        }

        waiting.CompleteAdding();
        await reading;
    }
}

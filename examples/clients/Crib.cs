// At the counter of a tool crib. .NET Framework 4.6.2 or newer, .NET 8, or Mono.
//   Crib plan REQUEST KEY                          promise blocks to a job
//   Crib issue SITE BLOCK...                       blocks go out, by a scan of their ids
//   Crib return SITE BLOCK [CONDITION] [REASON]    one comes back: damaged "burr at the edge"
//   Crib replan PLAN [REASON]                      other blocks for those that failed
// CRIB_ADDRESS is http://127.0.0.1:8000 if not set; CRIB_KEY is the API key, if the service wants one.
// Ends with 1 if the service refuses: of a plan, 409 says who has the blocks.
using System;
using System.Collections.Generic;
using System.IO;
using System.Linq;
using System.Net.Http;
using System.Net.Http.Headers;
using System.Runtime.Serialization;
using System.Runtime.Serialization.Json;
using System.Threading;

[DataContract]
public class Block
{
    [DataMember(Name = "id")] public string Id { get; set; }
    [DataMember(Name = "condition", EmitDefaultValue = false)] public string Condition { get; set; }
    [DataMember(Name = "reason", EmitDefaultValue = false)] public string Reason { get; set; }
}

[DataContract]
public class Stack
{
    [DataMember(Name = "target")] public string Target { get; set; }
    [DataMember(Name = "blocks")] public Block[] Blocks { get; set; }
}

[DataContract]
public class Answer
{
    [DataMember(Name = "stacks")] public Stack[] Stacks { get; set; }
}

[DataContract]
public class Plan
{
    [DataMember(Name = "id")] public string Id { get; set; }
    [DataMember(Name = "answer")] public Answer Answer { get; set; }
}

[DataContract]
public class BlockIssue
{
    [DataMember(Name = "blocks")] public string[] Blocks { get; set; }
}

[DataContract]
public class Loan
{
    [DataMember(Name = "block")] public string Block { get; set; }
    [DataMember(Name = "plan")] public string Plan { get; set; }
    [DataMember(Name = "due_at")] public string DueAt { get; set; }
}

[DataContract]
public class IssuedBlocks
{
    [DataMember(Name = "loans")] public Loan[] Loans { get; set; }
}

[DataContract]
public class BlockReturn
{
    [DataMember(Name = "blocks")] public Block[] Blocks { get; set; }
}

[DataContract]
public class PlanAtRisk
{
    [DataMember(Name = "plan")] public string Plan { get; set; }
    [DataMember(Name = "job")] public string Job { get; set; }
    [DataMember(Name = "starts_at")] public string StartsAt { get; set; }
}

[DataContract]
public class ReturnedBlocks
{
    [DataMember(Name = "blocks")] public Block[] Blocks { get; set; }
    [DataMember(Name = "at_risk")] public PlanAtRisk[] AtRisk { get; set; }
}

[DataContract]
public class PlanAnew
{
    [DataMember(Name = "reason", EmitDefaultValue = false)] public string Reason { get; set; }
}

[DataContract]
public class TakenBlock
{
    [DataMember(Name = "block")] public string Block { get; set; }
    [DataMember(Name = "job")] public string Job { get; set; }
    [DataMember(Name = "ends_at")] public string EndsAt { get; set; }
}

[DataContract]
public class Fault
{
    [DataMember(Name = "pointer")] public string Pointer { get; set; }
    [DataMember(Name = "detail")] public string Detail { get; set; }
}

[DataContract]
public class Problem
{
    [DataMember(Name = "title")] public string Title { get; set; }
    [DataMember(Name = "detail")] public string Detail { get; set; }
    [DataMember(Name = "errors")] public Fault[] Errors { get; set; }
    [DataMember(Name = "taken")] public TakenBlock[] Taken { get; set; }
}

public static class Program
{
    private static readonly string Address =
        Environment.GetEnvironmentVariable("CRIB_ADDRESS") ?? "http://127.0.0.1:8000";

    public static int Main(string[] args)
    {
        using (var client = new HttpClient { Timeout = TimeSpan.FromSeconds(60) })
        {
            var key = Environment.GetEnvironmentVariable("CRIB_KEY");
            if (key != null)
            {
                client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", key);
            }
            switch (args.Length < (args.FirstOrDefault() == "replan" ? 2 : 3) ? "" : args[0])
            {
                case "plan":
                    return Show<Plan>(Post(client, "/v1/plans", File.ReadAllBytes(args[1]), args[2]), Print);
                case "issue":
                    var issue = new BlockIssue { Blocks = args.Skip(2).ToArray() };
                    return Show<IssuedBlocks>(Post(client, "/v1/sites/" + args[1] + "/issues", Write(issue)), Print);
                case "return":
                    var block = new Block { Id = args[2], Condition = At(args, 3) ?? "fit", Reason = At(args, 4) };
                    var back = new BlockReturn { Blocks = new[] { block } };
                    return Show<ReturnedBlocks>(Post(client, "/v1/sites/" + args[1] + "/returns", Write(back)), Print);
                case "replan":
                    var anew = new PlanAnew { Reason = At(args, 2) };
                    return Show<Plan>(Post(client, "/v1/plans/" + args[1] + "/replan", Write(anew)), Print);
                default:
                    Console.Error.WriteLine("plan REQUEST KEY | issue SITE BLOCK... | "
                        + "return SITE BLOCK [CONDITION] [REASON] | replan PLAN [REASON]");
                    return 2;
            }
        }
    }

    // A busy service says how long to wait. If the connection breaks, nobody knows whether it was done:
    // with a key it may be sent again, as it is not done twice, and the first answer comes back.
    private static HttpResponseMessage Post(HttpClient client, string path, byte[] content, string key = null)
    {
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                var request = new HttpRequestMessage(HttpMethod.Post, Address + path);
                request.Content = new ByteArrayContent(content);
                request.Content.Headers.ContentType = new MediaTypeHeaderValue("application/json");
                if (key != null) request.Headers.Add("Idempotency-Key", key);
                var response = client.SendAsync(request).GetAwaiter().GetResult();
                var busy = (int)response.StatusCode == 503 || (int)response.StatusCode == 429;
                if (!busy || attempt == 5) return response;
                var wait = response.Headers.RetryAfter;
                Thread.Sleep(wait != null && wait.Delta.HasValue ? wait.Delta.Value : TimeSpan.FromSeconds(1));
            }
            catch (Exception broken) when (broken is HttpRequestException || broken is OperationCanceledException)
            {
                if (key == null || attempt == 5) throw;
                Thread.Sleep(TimeSpan.FromSeconds(1));
            }
        }
    }

    private static int Show<T>(HttpResponseMessage response, Action<T> print)
    {
        var content = response.Content.ReadAsStreamAsync().Result;
        if (response.IsSuccessStatusCode)
        {
            print(Read<T>(content));
            return 0;
        }
        var problem = Read<Problem>(content);
        Console.Error.WriteLine(problem.Title + " - " + problem.Detail);
        foreach (var fault in problem.Errors ?? new Fault[0])
        {
            Console.Error.WriteLine("  {0}: {1}", fault.Pointer, fault.Detail);
        }
        foreach (var each in problem.Taken ?? new TakenBlock[0])
        {
            Console.Error.WriteLine("  {0} has job {1} until {2}", each.Block, each.Job, each.EndsAt);
        }
        return 1;
    }

    private static void Print(Plan plan)
    {
        Console.WriteLine("plan: " + plan.Id);
        foreach (var stack in plan.Answer.Stacks)
        {
            Console.WriteLine(stack.Target + ": " + string.Join(" + ", stack.Blocks.Select(block => block.Id)));
        }
    }

    private static void Print(IssuedBlocks issued)
    {
        foreach (var loan in issued.Loans)
        {
            Console.WriteLine("{0} is out for {1} until {2}", loan.Block, loan.Plan, loan.DueAt);
        }
    }

    private static void Print(ReturnedBlocks returned)
    {
        foreach (var block in returned.Blocks) Console.WriteLine("{0} is back: {1}", block.Id, block.Condition);
        foreach (var risk in returned.AtRisk)
        {
            Console.WriteLine("at risk: {0} of job {1} from {2}", risk.Plan, risk.Job, risk.StartsAt);
        }
    }

    private static string At(IList<string> args, int place)
    {
        return args.Count > place ? args[place] : null;
    }

    private static T Read<T>(Stream json)
    {
        return (T)new DataContractJsonSerializer(typeof(T)).ReadObject(json);
    }

    private static byte[] Write<T>(T body)
    {
        using (var json = new MemoryStream())
        {
            new DataContractJsonSerializer(typeof(T)).WriteObject(json, body);
            return json.ToArray();
        }
    }
}
